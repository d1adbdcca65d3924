/* files.h: files opened or read whole, and written whole or not at all.
 *
 * Texts given out are zero-terminated and freed with tw_free. All functions may run in several
 * threads on different files.
 */
#ifndef TRIPWRIGHT_FILES_H
#define TRIPWRIGHT_FILES_H

#include "tripwright/base.h"

#include <stdio.h>

/* Open a file for reading; "-" is the standard input. Only files are opened: a folder, a pipe or a
 * device behind a path is refused at once (TW_NO_FILE), never waited for. Close it with fclose.
 * Whatever this program reads is opened here. */
tw_status tw_file_open(const char *file, tw_fault *fault, FILE **out);
/* Read a whole file of up to `limit` bytes. TW_NO_FILE, TW_NO_MEMORY, TW_BAD_INPUT (too long). */
tw_status tw_file_read(const char *file, size_t limit, tw_fault *fault, char **text,
                       size_t *length);
/* The same without a limit; NULL with the reason in `fault` (which may be NULL). */
char *tw_file_text(const char *file, size_t *length, tw_fault *fault);
/* Write a file in one step: temporary file beside it, fsync, rename. The mode of an old file and a
 * link stay; the old file is unchanged when anything fails (TW_NO_FILE). A device or a pipe is
 * written to and stays what it is. */
tw_status tw_file_replace(const char *file, const void *data, size_t size, tw_fault *fault);

#endif
