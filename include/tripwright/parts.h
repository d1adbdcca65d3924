/* parts.h: the library of parts: rows with a source, read from parts/KIND.yaml.
 *
 * Every row has an id, a name, a source text, and quantities; each kind has its own keys, which
 * stand in src/design/partkeys.def and in docs/models/parts-format.md. Numbers are SI with their
 * tolerance (catalogue limits). A library is immutable once loaded and may be read from several
 * threads; who loads it frees it with tw_library_free.
 */
#ifndef TRIPWRIGHT_PARTS_H
#define TRIPWRIGHT_PARTS_H

#include "tripwright/design.h"

/* kind, file name without .yaml, what it is */
#define TW_PART_KINDS(X)                                                                           \
  X(CERAMIC, "ceramics", "piezo ceramics")                                                         \
  X(MATERIAL, "materials", "metals, stems, ball tips, prints, bonds")                              \
  X(DISC, "discs", "catalogue discs")                                                              \
  X(AMPLIFIER, "amplifiers", "amplifiers and comparators")                                         \
  X(FOAM, "foams", "foams")                                                                        \
  X(SPRING, "springs", "spring wires and springs")                                                 \
  X(INSTRUMENT, "instruments", "instruments of the bench")

typedef enum tw_part_kind {
#define X(NAME, file, words) TW_KIND_##NAME,
  TW_PART_KINDS(X)
#undef X
      TW_KIND_COUNT
} tw_part_kind;

typedef struct tw_row tw_row;

/* Read all kinds from a folder; a missing file is an empty kind. Search order when `folder` is
 * NULL: the environment variable TRIPWRIGHT_PARTS, the installed data folder, the source folder. */
tw_status tw_library_load(const char *folder, tw_units *units, tw_messages *messages,
                          tw_library **out);
/* One kind from memory, for tests: adds to `library`. */
tw_status tw_library_parse(tw_library *library, tw_part_kind kind, const char *text, size_t length,
                           const char *file, tw_units *units, tw_messages *messages);
/* The rows of that kind which a shop file holds under the kind's name (instruments:); nothing else
 * of it is read. An id that the library has is refused. */
tw_status tw_library_add_shop(tw_library *library, tw_part_kind kind, const char *file,
                              tw_units *units, tw_messages *messages);
tw_library *tw_library_new(void);
void tw_library_free(tw_library *library);
const char *tw_library_folder(const tw_library *library);

size_t tw_library_count(const tw_library *library, tw_part_kind kind);
const tw_row *tw_library_row(const tw_library *library, tw_part_kind kind, size_t index);
const tw_row *tw_library_find(const tw_library *library, tw_part_kind kind, const char *id);
const char *tw_library_nearest(const tw_library *library, tw_part_kind kind, const char *id);
const char *tw_part_kind_file(tw_part_kind kind);  /* "discs" */
const char *tw_part_kind_words(tw_part_kind kind); /* "catalogue discs" */

tw_part_kind tw_row_kind(const tw_row *row);
const char *tw_row_id(const tw_row *row);
const char *tw_row_name(const tw_row *row);
const char *tw_row_part(const tw_row *row);   /* part number, or NULL */
const char *tw_row_source(const tw_row *row); /* never NULL */
tw_place tw_row_place(const tw_row *row);
/* The quantity of a key; false if the row has none. */
bool tw_row_number(const tw_row *row, const char *key, tw_quantity *out);
/* The text of any key as written, or NULL. */
const char *tw_row_text(const tw_row *row, const char *key);

/* Keys that a row must have so that a design may simply name it, and has not: a design that names
 * it states these fields itself. `use` counts the fields that name rows of this kind (a material
 * may be a disc's metal, a stem, a ball, the work); false past the last. Up to `room` keys, *count
 * of them; *field is the one that would name the row. */
bool tw_row_lacks(const tw_row *row, size_t use, tw_field *field, const char **key, size_t room,
                  size_t *count);
/* says enough for one use at least, which a row that no design names does */
bool tw_row_usable(const tw_row *row);

/* The kind of the rows that a field names (circuit.amplifier: amplifiers); false: it names none. */
bool tw_field_names_row(tw_field field, tw_part_kind *kind);

/* keys of a kind: unit ("" for words), needed or not, one line of help */
typedef struct tw_part_key {
  const char *key, *unit;
  bool needed;
  const char *help;
} tw_part_key;
size_t tw_part_key_count(tw_part_kind kind);
const tw_part_key *tw_part_key_at(tw_part_kind kind, size_t index);

#endif
