/* The conversation: what is new and what a repeat, openings, heartbeats, and what is sent when. */
#ifndef FEEDSCRIPT_DIALOGUE_H
#define FEEDSCRIPT_DIALOGUE_H

void dialogue_begin(void);

/* Reads what has come, at most one whole line by each link, and does what that says. */
void dialogue_read(void);

/* Sends what is due and fits: the reply first, then the heartbeat's answer, then events. */
void dialogue_write(void);

#endif
