/* design.h: one probe as its design file says it: every parameter in SI with its tolerance, where
 * it comes from and where it stands.
 *
 * The table of parameters is fields.def; TW_F_<id> below is generated from it. A tw_design is
 * immutable once read and may be read from any number of threads; it carries its texts in a shared
 * store, so a clone is one memory copy. Studies make their own clone (one a thread) and change its
 * numbers with tw_design_put, which allocates nothing. Who gets a tw_design frees it with
 * tw_design_free. The library of parts and the unit system are passed in and must outlive nothing:
 * a design keeps no pointer to them.
 */
#ifndef TRIPWRIGHT_DESIGN_H
#define TRIPWRIGHT_DESIGN_H

#include "tripwright/base.h"
#include "tripwright/choices.def"
#include "tripwright/units.h"

/* ---- choices: TW_SUPPORT_LEDGE and so on ----------------------------------------------------- */

#define TW_CHOICE_ENUM_ROW(SET, NAME, word, help) TW_##SET##_##NAME,
#define TW_CHOICE_ENUM(SET)                       enum { TW_CHOICES_##SET(TW_CHOICE_ENUM_ROW) TW_##SET##_COUNT };
TW_CHOICE_SETS(TW_CHOICE_ENUM)
#undef TW_CHOICE_ENUM
#undef TW_CHOICE_ENUM_ROW

/* the sets themselves */
typedef enum tw_choice_set {
  TW_SET_NONE,
#define TW_SET_ROW(SET) TW_SET_##SET,
  TW_CHOICE_SETS(TW_SET_ROW)
#undef TW_SET_ROW
      TW_SET_COUNT
} tw_choice_set;

size_t tw_choice_count(tw_choice_set set);
const char *tw_choice_word(tw_choice_set set, int choice); /* NULL outside the set */
const char *tw_choice_help(tw_choice_set set, int choice);
int tw_choice_find(tw_choice_set set, const char *word); /* -1 if there is none */

/* ---- fields ---------------------------------------------------------------------------------- */

typedef enum tw_field {
#define TW_FIELD(id, path, TYPE, unit, fallback, least, most, TOL, DEFAULT, part, when, SET, help, \
                 source)                                                                           \
  TW_F_##id,
#include "tripwright/fields.def"
  TW_FIELD_COUNT
} tw_field;

typedef enum tw_field_type {
  TW_TYPE_QUANTITY,
  TW_TYPE_NUMBER,
  TW_TYPE_COUNT,
  TW_TYPE_CHOICE,
  TW_TYPE_TEXT,
  TW_TYPE_TABLE
} tw_field_type;

typedef enum tw_tolerance_kind {
  TW_TOLERANCE_NONE,
  TW_TOLERANCE_LENGTH,
  TW_TOLERANCE_PERCENT,
  TW_TOLERANCE_ABSOLUTE
} tw_tolerance_kind;

/* GUESS: the default is a guess at a fact of the unit, its tolerance the limits of that guess */
typedef enum tw_default_kind { TW_DEFAULT_PLAIN, TW_DEFAULT_GUESS } tw_default_kind;

/* fallback of fields without a default */
#define TW_MUST  "must be given"
#define TW_UNSET "unset"

typedef struct tw_field_info {
  const char *id, *path;
  tw_field_type type;
  const char *unit;     /* the unit shown; a table's columns */
  const char *fallback; /* default text, TW_MUST or TW_UNSET */
  double least, most;   /* in the unit shown */
  tw_tolerance_kind tolerance;
  tw_default_kind standing;
  const char *part;
  const char *when;
  tw_choice_set set;
  const char *help, *source;
} tw_field_info;

/* The row of a field; never NULL for 0 <= field < TW_FIELD_COUNT. */
const tw_field_info *tw_field_of(tw_field field);
/* The field with this path, or TW_FIELD_COUNT. */
tw_field tw_field_find(const char *path);
/* The path nearest in spelling, or NULL. */
const char *tw_field_nearest(const char *path);

/* ---- values ---------------------------------------------------------------------------------- */

/* where a value comes from, weakest first; UNSET: there is none */
typedef enum tw_origin {
  TW_ORIGIN_UNSET,
  TW_ORIGIN_DEFAULT,
  TW_ORIGIN_LIBRARY,
  TW_ORIGIN_SHOP,  /* the shop file */
  TW_ORIGIN_BASE,  /* the file that this one is based on */
  TW_ORIGIN_GIVEN, /* this file */
  TW_ORIGIN_SET,   /* --set, the page, a study */
  TW_ORIGIN_MEASURED
} tw_origin;
const char *tw_origin_word(tw_origin origin); /* "default", "library", "given" ... */

typedef struct tw_cell {
  const char *text; /* as written; never NULL */
  double number;    /* SI; 0 in a text column */
  tw_tolerance tolerance;
} tw_cell;

typedef struct tw_table {
  size_t rows, columns;
  const tw_cell *cells; /* rows x columns, row by row */
} tw_table;

typedef struct tw_value {
  tw_origin origin;
  double number; /* SI; the count of a COUNT; the answer's index of a CHOICE */
  tw_tolerance tolerance;
  const char *text; /* as written in file, library or table; NULL when unset */
  const tw_table *table;
  tw_place
      place; /* file, line, column; line 0 for defaults, the library row's for library values */
  size_t start, length; /* bytes of the text in that file; 0, 0 if it stands in none */
} tw_value;

typedef struct tw_design tw_design;

const tw_value *tw_design_value(const tw_design *design, tw_field field);
bool tw_design_has(const tw_design *design, tw_field field); /* origin is not UNSET */
/* given by the user, not by default or library */
bool tw_design_given(const tw_design *design, tw_field field);

/* The number in SI. Programmer error (asserts) if the field is no number; NAN if it is unset, so
 * ask tw_design_has first for every field whose fallback is TW_UNSET or that depends on a choice.
 */
double tw_design_number(const tw_design *design, tw_field field);
/* the number, or `otherwise` if it is unset */
double tw_design_number_or(const tw_design *design, tw_field field, double otherwise);
int tw_design_count(const tw_design *design, tw_field field);  /* -1 if unset */
int tw_design_choice(const tw_design *design, tw_field field); /* TW_<SET>_<NAME>; -1 if unset */
const char *tw_design_text(const tw_design *design, tw_field field);      /* NULL if unset */
const tw_table *tw_design_table(const tw_design *design, tw_field field); /* NULL if unset */
tw_tolerance tw_design_tolerance(const tw_design *design, tw_field field);
/* true when the choices it belongs to (`when`) are taken; a choice not made counts as taken */
bool tw_design_applies(const tw_design *design, tw_field field);
/* a disc is described (false for opening contacts alone) */
bool tw_design_has_disc(const tw_design *design);

const char *tw_design_name(const tw_design *design);     /* "design:" */
const char *tw_design_revision(const tw_design *design); /* "revision:" */
const char *tw_design_file(const tw_design *design);     /* as it was named when reading */
const char *tw_design_base(const tw_design *design);     /* based_on, or NULL */

/* The source line of a place of this design, for messages: `out`, or NULL if it is too long or not
 * from one of the design's files. */
const char *tw_design_excerpt(const tw_design *design, tw_place place, char *out, size_t size);

/* ---- requirements ---------------------------------------------------------------------------- */

typedef enum tw_rule { TW_RULE_MOST, TW_RULE_LEAST, TW_RULE_WITHIN, TW_RULE_IS } tw_rule;

/* "<= 0.25 N" MOST, ">= 2" LEAST, "within 1 um .. 3 um" WITHIN, "= full" IS. The name and the unit
 * are checked by the assessment, which knows the measures. */
typedef struct tw_requirement {
  const char *name; /* of the measure */
  const char *text; /* as written, without quotes */
  tw_rule rule;
  const char *low, *high; /* quantity texts: MOST uses high, LEAST low, WITHIN both; else NULL */
  const char *word;       /* IS */
  tw_place place;
  const char *excerpt; /* the source line */
} tw_requirement;

size_t tw_design_requirements(const tw_design *design);
const tw_requirement *tw_design_requirement(const tw_design *design, size_t index);

/* ---- parts that must be remade, and processes ---------------------------------------------------
 */

typedef enum tw_part_state {
  TW_PART_OPEN,
  TW_PART_ORDERED,
  TW_PART_IN_HAND,
  TW_PART_FITTED
} tw_part_state;

/* parts.NAME: `name` is that of the table's column `part` */
typedef struct tw_part {
  const char *name;
  tw_part_state state;
  double lead_time; /* s */
  double cost;      /* in costs.currency */
  double hours;     /* s of work */
  int operations;
  const char *process; /* or NULL */
  tw_place place;
} tw_part;

size_t tw_design_parts(const tw_design *design);
const tw_part *tw_design_part(const tw_design *design, size_t index);
const tw_part *tw_design_part_named(const tw_design *design, const char *name); /* or NULL */

/* The names that the table's column `part` may hold, cheapest first, with what changing one means:
 * work and waiting where parts.NAME says nothing (common practice, no source; SI: seconds). */
typedef struct tw_part_info {
  const char *name, *words;
  double work, wait;
} tw_part_info;

size_t tw_part_info_count(void);
const tw_part_info *tw_part_info_at(size_t index);        /* NULL past the last */
const tw_part_info *tw_part_info_named(const char *name); /* NULL if there is none */

/* processes.NAME of the shop file: what a way of making does to a length; m, made size minus drawn
 * size, the tolerance is the spread from piece to piece. `has` says which were stated. */
typedef struct tw_process {
  const char *name;
  tw_quantity offset_xy;    /* outer sizes across the axis */
  tw_quantity offset_hole;  /* inner sizes across the axis: holes, hollows */
  tw_quantity offset_place; /* from one feature to another across the axis: pitch circles */
  tw_quantity offset_z;     /* heights and depths along the axis */
  struct {
    bool xy, hole, place, z;
  } has;
  tw_place place;
} tw_process;

size_t tw_design_processes(const tw_design *design);
const tw_process *tw_design_process(const tw_design *design, size_t index);
const tw_process *tw_design_process_named(const tw_design *design, const char *name); /* or NULL */

/* Which offset of a process counts for a length, and how much of it: all of a diameter's, half of a
 * radius's. NONE: no single piece makes it (fits, travels, sums), or it is no length. */
typedef enum tw_way { TW_WAY_NONE, TW_WAY_XY, TW_WAY_HOLE, TW_WAY_PLACE, TW_WAY_Z } tw_way;
typedef struct tw_dimension {
  tw_way way;
  double share;
} tw_dimension;
tw_dimension tw_field_dimension(tw_field field);
/* What the shop file says about the making of this field's value: false unless the value is given
 * by the workshop, its part has a process (parts.NAME.process; housing.process for the housing)
 * that is described, and that states an offset for this kind of dimension. *process (may be NULL)
 * is the process, *offset the shift of the mean with its spread as tolerance, m. */
bool tw_design_making(const tw_design *design, tw_field field, const tw_process **process,
                      tw_quantity *offset);

/* the offset that a process states for one kind of length; NULL: no such process, or not stated */
const tw_quantity *tw_design_process_offset(const tw_design *design, const char *process,
                                            tw_way way);
/* Put another figure there, in this design and its copies: before any of them is used.
 * TW_BAD_INPUT: no such process, or TW_WAY_NONE. */
tw_status tw_design_process_learn(tw_design *design, const char *process, tw_way way,
                                  const tw_quantity *offset, tw_fault *fault);

/* ---- reading --------------------------------------------------------------------------------- */

typedef struct tw_library tw_library; /* parts.h */

/* groups of fields whose TW_MUST rows are required; TW_NEED_ALL for `check` */
#define TW_NEED_DISC    0x01u /* disc, support */
#define TW_NEED_SEAT    0x02u /* seat, preload */
#define TW_NEED_STYLUS  0x04u
#define TW_NEED_CIRCUIT 0x08u /* circuit, output */
#define TW_NEED_LINK    0x10u
#define TW_NEED_HOLD    0x20u /* holddown */
#define TW_NEED_ALL     0x3fu
#define TW_NEED_NOTHING 0u

typedef struct tw_set {
  const char *path, *text; /* --set path=text */
} tw_set;

typedef struct tw_read_options {
  tw_units *units;           /* needed */
  const tw_library *library; /* NULL: no library rows; named rows are then errors */
  unsigned need;             /* TW_NEED_... */
  const char *shop;          /* shop file; NULL: shop.yaml beside the design if there is one */
  bool no_shop;              /* read none */
  const tw_set *sets;        /* applied left to right after the file */
  size_t set_count;
} tw_read_options;

/* Read a design file. TW_OK gives *out; warnings may stand in `messages` even then. TW_BAD_INPUT,
 * TW_NO_FILE, TW_NO_MEMORY leave *out NULL and the reasons in `messages`. */
tw_status tw_design_read(const char *file, const tw_read_options *options, tw_messages *messages,
                         tw_design **out);
/* The same from memory; `file` is the name for messages and the place from which based_on and the
 * shop file are sought (NULL: "design", and neither is allowed). */
tw_status tw_design_parse(const char *text, size_t length, const char *file,
                          const tw_read_options *options, tw_messages *messages, tw_design **out);
void tw_design_free(tw_design *design);

/* ---- changing -------------------------------------------------------------------------------- */

/* A private copy; NULL without memory. */
tw_design *tw_design_clone(const tw_design *design);
/* Copy all values of `from` into `own`, a clone of the same file: no allocation. */
void tw_design_copy(tw_design *own, const tw_design *from);
/* Change one number (SI; a choice's index, a count) of your own clone: no allocation, no check of
 * the range. The text becomes NULL and the origin SET; the tolerance stays. Nothing else follows: a
 * shorthand (seat.friction) or the name of a library row is text, for --set and tw_design_parse. */
void tw_design_put(tw_design *own, tw_field field, double number);
/* Take the value of a field over from another design, which must outlive `own`: no allocation. */
void tw_design_take(tw_design *own, const tw_design *from, tw_field field);
/* The same with a table of your own, of the field's columns, which must outlive `own`. */
void tw_design_put_table(tw_design *own, tw_field field, const tw_table *table);
/* From now on mark in `read` (TW_FIELD_COUNT of them) each field that is asked of your own clone,
 * by one thread; NULL ends it. A clone of a watched design is not watched. */
void tw_design_watch(tw_design *own, bool *read);
/* A clone with n numbers changed. */
tw_status tw_design_with(const tw_design *design, size_t n, const tw_field *fields,
                         const double *numbers, tw_design **out);

/* ---- writing --------------------------------------------------------------------------------- */

/* Change the text of values in the design file itself: comments, order and spacing of everything
 * else stay; a key that is not there is added to its group. The new text is read and checked before
 * the file is replaced in one step; if the file changed on disk since `design` was read, nothing is
 * written and TW_NO_FILE says so. */
tw_status tw_design_write(const tw_design *design, size_t n, const tw_set *sets,
                          const tw_read_options *options, tw_messages *messages);
/* The same without touching a disk: *out is the new text (free with tw_free). */
tw_status tw_design_edit(const char *text, size_t length, size_t n, const tw_set *sets,
                         tw_fault *fault, char **out);

/* ---- printing -------------------------------------------------------------------------------- */

/* Everything below hands its text to `put` piece by piece; false from `put` stops. */
typedef struct tw_sink {
  bool (*put)(void *self, const char *text, size_t length);
  void *self;
} tw_sink;

/* The merged design with the origin of each value (`check --flat`). */
tw_status tw_design_print_flat(const tw_design *design, tw_units *units, tw_system system,
                               const tw_sink *sink);
/* JSON schema of the design file, from the table. */
tw_status tw_design_print_schema(const tw_sink *sink);
/* the value as a person reads it: "9.3 mm ± 0.05 mm", "ledge", text; length as snprintf's */
int tw_design_print_value(const tw_design *design, tw_field field, tw_units *units,
                          tw_system system, char *out, size_t size);

/* Templates for `new`: text of a starting file for a seat family (TW_SEAT_...), or NULL. */
const char *tw_design_template(int seat_kind);
/* The same with a kind of circuit (TW_CIRCUIT_..., -1: the family's usual one); NULL when the
 * family does not take it: opening contacts belong to a tripod. */
const char *tw_design_starter(int seat_kind, int circuit_kind);
/* The same with the line of a link (TW_LINK_..., -1: none said) into out; length as snprintf's, 0
 * where there is no such file. No text is longer than TW_STARTER_LENGTH. */
#define TW_STARTER_LENGTH 4000
int tw_design_starter_print(int seat_kind, int circuit_kind, int link_kind, char *out, size_t size);

/* The keys of the sections whose entries have names of their own: parts.NAME.KEY. For requirements
 * the key is the measure's name (measures.def). Unit "" is a word, "1" a plain number. */
typedef struct tw_section_key {
  const char *section, *key, *unit, *help;
} tw_section_key;
size_t tw_section_key_count(void);
const tw_section_key *tw_section_key_at(size_t index);

#endif
