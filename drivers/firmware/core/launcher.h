/* The launcher: everything together. A board calls launcher_begin once, then launcher_poll. */
#ifndef FEEDSCRIPT_LAUNCHER_H
#define FEEDSCRIPT_LAUNCHER_H

void launcher_begin(void);
void launcher_poll(void);

#endif
