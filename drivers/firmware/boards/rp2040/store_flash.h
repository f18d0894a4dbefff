/* The launcher's stored bytes, in two sectors of flash. */
#ifndef FEEDSCRIPT_STORE_FLASH_H
#define FEEDSCRIPT_STORE_FLASH_H

/* Finds what was committed last; before anything is read. */
void store_flash_begin(void);

#endif
