/* The queue of feeds, the gate, and what became of each ball. */
#ifndef FEEDSCRIPT_FEEDER_H
#define FEEDSCRIPT_FEEDER_H

#include <stdbool.h>
#include <stdint.h>

#include "board.h"
#include "wire/wire.h"

typedef struct {
    uint16_t drives[WHEELS]; /* rpm, or ms of a valve */
    int16_t angles[AXES];    /* hundredths of a degree */
} setting_t;

typedef struct {
    uint32_t id;
    uint32_t leave;
    setting_t setting;
} feed_t;

/* What a stop needs of it knows nothing of states; feeding.h puts the two together. */
void feeder_begin(void);
uint8_t feeder_queued(void);
void feeder_add(const feed_t *feed);
void feeder_prepare(const setting_t *setting); /* moves there now */

/* The moment the feed before asks to leave; false when there is none to keep a distance from. */
bool feeder_before(uint32_t *leave);

/* Gate shut, every queued feed MISSed. A ball already under way is still waited for. */
void feeder_flush(reason_t reason);

/* Gate shut, and no ball that passed it can still leave. */
bool feeder_clear(void);

/* The steps of feeding.c, in this order. */
void feeder_note_opening(void);               /* the fence has opened the gate for the head */
void feeder_ball_left(uint32_t at);           /* the ball under way passed the sensor */
fault_t feeder_look_for_loss(uint32_t now);   /* the fault that kept it from being seen */
void feeder_work_head(void);                  /* while armed: the next one to its setting */

#endif
