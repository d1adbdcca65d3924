/* fit.h: text as wide as the place where it is read, and colour where there is some.
 *
 * A verb prints its text as if there were room; what is wider than the terminal (80 columns where
 * there is none) is broken at blanks and goes on under its own last column. On a terminal the words
 * of a verdict are coloured; never in a pipe, and never where NO_COLOR is set (no-color.org).
 */
#ifndef TW_CLI_FIT_H
#define TW_CLI_FIT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* where no terminal tells otherwise */
#define TW_FIT_WIDTH 80
/* below this nothing is broken any finer */
#define TW_FIT_LEAST 40

/* columns of the terminal behind `out`, TW_FIT_WIDTH when there is none */
int tw_fit_width(FILE *out);
/* may what goes to `out` be coloured? */
bool tw_fit_coloured(FILE *out);
/* print `text`, lines ending before `width`, with the words of a verdict coloured if `coloured` */
void tw_fit_print(const char *text, int width, bool coloured, FILE *out);

#endif
