#include "commands/refusal.h"

refusal_t fine(void)
{
    const refusal_t none = {NO_NONE, false, 0u};
    return none;
}

refusal_t no(no_t code)
{
    const refusal_t refusal = {code, false, 0u};
    return refusal;
}

refusal_t no_with(no_t code, uint32_t detail)
{
    const refusal_t refusal = {code, true, detail};
    return refusal;
}
