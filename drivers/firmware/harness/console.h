/* The console: commands on standard input, one line of JSON for each on standard output. */
#ifndef FEEDSCRIPT_CONSOLE_H
#define FEEDSCRIPT_CONSOLE_H

#include <stdbool.h>

/* Reads and obeys what stands on standard input; false at its end. */
bool console_read(void);
void console_report(void);
void console_say(const char *format, ...) __attribute__((format(printf, 1, 2)));

#endif
