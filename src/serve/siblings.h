/* siblings.h: the other designs in the folder of the one that is served.
 *
 * A page may name one of these to be compared with its own. What it sends is never a path: it is
 * looked for among the names that are listed here, and the listed name is what is opened.
 */
#ifndef TW_SERVE_SIBLINGS_H
#define TW_SERVE_SIBLINGS_H

#include "tripwright/base.h"

#include <jansson.h>

enum { TW_SIBLINGS_MOST = 64, TW_SIBLING_NAME = 128 };

typedef struct tw_siblings {
  size_t count;
  char name[TW_SIBLINGS_MOST][TW_SIBLING_NAME];
} tw_siblings;

/* Regular files (no links) beside `path` that end in .yaml or .yml, without it, without shop.yaml
 * and without names that begin with a dot; sorted. None when the folder cannot be read. */
void tw_siblings_list(const char *path, tw_siblings *out);
json_t *tw_siblings_json(const tw_siblings *siblings);
/* The path of the listed sibling of this name into out; false when there is none of that name. */
bool tw_siblings_path(const tw_siblings *siblings, const char *path, const char *name, char *out,
                      size_t size);

#endif
