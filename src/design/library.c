/* library.c: the library of parts: its files, its rows, and how to ask for them. */
#include "inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define TW_ROW_COUNT 2000

static const struct {
  tw_part_kind kind;
  tw_part_key key;
} keys[] = {
#define TW_PART_KEY(KIND, key, unit, needed, help) {TW_KIND_##KIND, {#key, unit, needed, help}},
#include "partkeys.def"
};
#define KEYS (sizeof keys / sizeof keys[0])

struct tw_row {
  tw_part_kind kind;
  const char *id, *name, *part, *source;
  tw_place place;
  struct tw_entry {
    const char *text; /* NULL: the row does not have this key */
    tw_quantity quantity;
  } entry[KEYS]; /* one kind's keys are fewer */
  struct tw_row *next;
};

struct tw_library {
  tw_store *store;
  tw_row *first[TW_KIND_COUNT], *last[TW_KIND_COUNT];
  size_t count[TW_KIND_COUNT];
  char folder[1024];
};

static const struct {
  const char *file, *words;
} kinds[] = {
#define X(NAME, file, words) {file, words},
    TW_PART_KINDS(X)
#undef X
};

const char *tw_part_kind_file(tw_part_kind kind)
{
  return (size_t)kind < TW_KIND_COUNT ? kinds[kind].file : NULL;
}

const char *tw_part_kind_words(tw_part_kind kind)
{
  return (size_t)kind < TW_KIND_COUNT ? kinds[kind].words : NULL;
}

size_t tw_part_key_count(tw_part_kind kind)
{
  size_t n = 0;
  for (size_t i = 0; i < KEYS; i++) {
    n += keys[i].kind == kind;
  }
  return n;
}

const tw_part_key *tw_part_key_at(tw_part_kind kind, size_t index)
{
  for (size_t i = 0; i < KEYS; i++) {
    if (keys[i].kind == kind && index-- == 0) {
      return &keys[i].key;
    }
  }
  return NULL;
}

/* place of a key among those of its kind, -1 if there is none */
static int key_index(tw_part_kind kind, const char *key)
{
  int n = 0;
  for (size_t i = 0; i < KEYS; i++) {
    if (keys[i].kind == kind) {
      if (strcmp(keys[i].key.key, key) == 0) {
        return n;
      }
      n++;
    }
  }
  return -1;
}

/* ---- reading --------------------------------------------------------------------------------- */

static bool is_id(const char *text)
{
  const size_t length = strlen(text);
  return length > 0 && length < 48 &&
         strspn(text, "abcdefghijklmnopqrstuvwxyz0123456789_-") == length;
}

static void unknown_key(tw_reading *r, tw_part_kind kind, const tw_node *node)
{
  static const char *const common[] = {"id", "name", "source", "part", "note"};
  const char *names[KEYS + 5];
  size_t n = 0;
  for (; n < 5; n++) {
    names[n] = common[n];
  }
  for (size_t i = 0; i < tw_part_key_count(kind); i++) {
    names[n++] = tw_part_key_at(kind, i)->key;
  }
  char hint[96] = "";
  const char *near = tw_nearest_name(node->key, names, n);
  if (near) {
    snprintf(hint, sizeof hint, "did you mean '%s'?", near);
  }
  tw_reading_say(r, TW_ERROR, (tw_place){r->source->file, node->key_line, node->key_column}, NULL,
                 hint, "unknown key '%.48s'", node->key);
}

static void read_entry(tw_reading *r, const tw_node *node, tw_row *row)
{
  if (node->kind != TW_NODE_SCALAR || !node->text[0]) {
    tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), NULL, NULL, "'%.48s' needs one value",
                   node->key);
    return;
  }
  const char *text = tw_reading_keep(r, node->text);
  const int k = key_index(row->kind, node->key);
  if (strcmp(node->key, "id") == 0) {
    row->id = text;
  } else if (strcmp(node->key, "name") == 0) {
    row->name = text;
  } else if (strcmp(node->key, "source") == 0) {
    row->source = text;
  } else if (strcmp(node->key, "part") == 0) {
    row->part = text;
  } else if (k >= 0) {
    const tw_part_key *key = tw_part_key_at(row->kind, (size_t)k);
    struct tw_entry *e = &row->entry[k];
    if (!key->unit[0] || tw_read_quantity(r, key->key, key->unit, node, &e->quantity)) {
      e->text = text;
    }
  } else if (strcmp(node->key, "note") != 0) {
    unknown_key(r, row->kind, node);
  }
}

static bool complete(tw_reading *r, const tw_library *library, const tw_row *row)
{
  const char *missing = !row->id ? "id" : !row->name ? "name" : !row->source ? "source" : NULL;
  for (size_t i = 0; !missing && i < tw_part_key_count(row->kind); i++) {
    const tw_part_key *key = tw_part_key_at(row->kind, i);
    missing = key->needed && !row->entry[i].text ? key->key : NULL;
  }
  if (missing) {
    tw_reading_say(r, TW_ERROR, row->place, NULL, NULL, "this row has no '%s'", missing);
    return false;
  }
  if (!is_id(row->id)) {
    tw_reading_say(r, TW_ERROR, row->place, NULL, "use small letters, digits, _ and -",
                   "'%.60s' is no id", row->id);
    return false;
  }
  if (tw_library_find(library, row->kind, row->id)) {
    tw_reading_say(r, TW_ERROR, row->place, NULL, "ids are unique in a file", "a second row '%s'",
                   row->id);
    return false;
  }
  return true;
}

static void read_row(tw_reading *r, tw_library *library, tw_part_kind kind, const tw_node *node)
{
  if (node->kind != TW_NODE_MAP) {
    tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), NULL, "write - id: ...",
                   "a row is a group of keys");
    return;
  }
  tw_row *row = tw_reading_take(r, sizeof *row);
  if (!row) {
    return;
  }
  row->kind = kind;
  row->place = tw_reading_place(r, node);
  const size_t errors = tw_messages_errors(r->messages);
  for (const tw_node *n = node->first; n; n = n->next) {
    read_entry(r, n, row);
  }
  if (r->no_memory || tw_messages_errors(r->messages) > errors || !complete(r, library, row)) {
    return;
  }
  if (library->last[kind]) {
    library->last[kind]->next = row;
  } else {
    library->first[kind] = row;
  }
  library->last[kind] = row;
  library->count[kind]++;
}

tw_library *tw_library_new(void)
{
  tw_library *library = tw_alloc(1, sizeof *library);
  if (library && !(library->store = tw_store_new())) {
    tw_free(library);
    return NULL;
  }
  return library;
}

void tw_library_free(tw_library *library)
{
  if (library) {
    tw_store_drop(library->store);
    tw_free(library);
  }
}

/* the text's tree; `r` is set up for it */
static tw_status take_text(tw_library *library, const char *text, size_t length, const char *file,
                           tw_reading *r, tw_node **root)
{
  tw_store *store = library->store;
  r->store = store;
  /* the texts of more files than fit are read all the same, only their excerpts are lost */
  const size_t at =
      store->source_count < TW_SOURCE_COUNT ? store->source_count++ : TW_SOURCE_COUNT - 1;
  tw_source *source = &store->source[at];
  tw_status status = tw_source_take(store->arena, file, text, length, r->messages, source);
  if (status == TW_OK) {
    status = tw_source_tree(store->arena, source, r->messages, root);
  }
  r->source = source;
  return status;
}

static tw_status read_rows(tw_reading *r, tw_library *library, tw_part_kind kind,
                           const tw_node *list)
{
  const size_t errors = tw_messages_errors(r->messages);
  if (list->kind != TW_NODE_LIST || list->count > TW_ROW_COUNT) {
    tw_reading_say(r, TW_ERROR, tw_reading_place(r, list), NULL, "write - id: ...",
                   "a list of up to %d rows is expected", TW_ROW_COUNT);
    return TW_BAD_INPUT;
  }
  for (const tw_node *n = list->first; n; n = n->next) {
    read_row(r, library, kind, n);
  }
  if (r->no_memory || tw_messages_lost(r->messages)) {
    return TW_NO_MEMORY;
  }
  return tw_messages_errors(r->messages) > errors ? TW_BAD_INPUT : TW_OK;
}

tw_status tw_library_parse(tw_library *library, tw_part_kind kind, const char *text, size_t length,
                           const char *file, tw_units *units, tw_messages *messages)
{
  const tw_read_options options = {.units = units};
  tw_reading r = {.options = &options, .messages = messages};
  const size_t errors = tw_messages_errors(messages);
  tw_node *root = NULL;
  const tw_status status = take_text(library, text, length, file, &r, &root);
  if (status != TW_OK) {
    return status;
  }
  const tw_status rows = read_rows(&r, library, kind, root);
  return rows == TW_OK && tw_messages_errors(messages) > errors ? TW_BAD_INPUT : rows;
}

/* ---- the folder ------------------------------------------------------------------------------ */

static bool holds_parts(const char *folder)
{
  char path[1200];
  const int n = snprintf(path, sizeof path, "%s/ceramics.yaml", folder);
  return n > 0 && (size_t)n < sizeof path && access(path, R_OK) == 0;
}

/* PREFIX/share/tripwright/parts of a command in PREFIX/bin */
static bool beside_command(char *out, size_t size)
{
  char command[900];
  const ssize_t n = readlink("/proc/self/exe", command, sizeof command - 1);
  if (n <= 0) {
    return false;
  }
  command[n] = '\0';
  char *slash = strrchr(command, '/');
  if (slash) {
    *slash = '\0';
  }
  const int length = snprintf(out, size, "%s/../share/tripwright/parts", command);
  return length > 0 && (size_t)length < size && holds_parts(out);
}

static bool find_folder(char *out, size_t size)
{
  const char *named = getenv("TRIPWRIGHT_PARTS");
  if (named && named[0]) {
    snprintf(out, size, "%s", named);
    return true;
  }
  if (beside_command(out, size)) {
    return true;
  }
  static const char *const fixed[] = {TW_PARTS_SOURCE, TW_PARTS_INSTALLED};
  for (size_t i = 0; i < 2; i++) {
    if (holds_parts(fixed[i])) {
      snprintf(out, size, "%s", fixed[i]);
      return true;
    }
  }
  return false;
}

tw_status tw_library_add_shop(tw_library *library, tw_part_kind kind, const char *file,
                              tw_units *units, tw_messages *messages)
{
  const tw_read_options options = {.units = units};
  tw_reading r = {.options = &options, .messages = messages};
  char *text;
  size_t length;
  tw_fault fault = {0};
  tw_status status = tw_file_read(file, TW_FILE_LIMIT, &fault, &text, &length);
  if (status != TW_OK) {
    tw_messages_add_fault(messages, &fault, (tw_place){0}, NULL);
    return status;
  }
  tw_node *root = NULL;
  status = take_text(library, text, length, file, &r, &root);
  tw_free(text);
  const tw_node *list =
      status == TW_OK && root->kind == TW_NODE_MAP ? tw_node_child(root, kinds[kind].file) : NULL;
  return list ? read_rows(&r, library, kind, list) : status;
}

static tw_status load_kind(tw_library *library, tw_part_kind kind, tw_units *units,
                           tw_messages *messages)
{
  char path[1200];
  snprintf(path, sizeof path, "%s/%s.yaml", library->folder, kinds[kind].file);
  if (access(path, F_OK) != 0) {
    return TW_OK;
  }
  char *text;
  size_t length;
  tw_fault fault = {0};
  tw_status status = tw_file_read(path, TW_FILE_LIMIT, &fault, &text, &length);
  if (status != TW_OK) {
    tw_messages_add_fault(messages, &fault, (tw_place){0}, NULL);
    return status;
  }
  status = tw_library_parse(library, kind, text, length, path, units, messages);
  tw_free(text);
  return status;
}

tw_status tw_library_load(const char *folder, tw_units *units, tw_messages *messages,
                          tw_library **out)
{
  *out = NULL;
  tw_library *library = tw_library_new();
  if (!library) {
    return TW_NO_MEMORY;
  }
  if (folder) {
    snprintf(library->folder, sizeof library->folder, "%s", folder);
  }
  tw_status status = TW_OK;
  if (folder ? access(folder, R_OK) != 0 : !find_folder(library->folder, sizeof library->folder)) {
    tw_messages_add(messages, TW_ERROR, (tw_place){0}, NULL, NULL,
                    "name it with --parts or the environment variable TRIPWRIGHT_PARTS",
                    "the folder of the parts library was not found%s%.200s", folder ? ": " : "",
                    folder ? folder : "");
    status = TW_NO_FILE;
  }
  for (int k = 0; status == TW_OK && k < TW_KIND_COUNT; k++) {
    status = load_kind(library, (tw_part_kind)k, units, messages);
  }
  size_t rows = 0;
  for (int k = 0; k < TW_KIND_COUNT; k++) {
    rows += library->count[k];
  }
  if (status == TW_OK && rows == 0) {
    tw_messages_add(messages, TW_ERROR, (tw_place){0}, NULL, NULL,
                    "name the folder that holds discs.yaml, materials.yaml and the others",
                    "no parts library in %.200s", library->folder);
    status = TW_NO_FILE;
  }
  if (status != TW_OK) {
    tw_library_free(library);
    return status;
  }
  *out = library;
  return TW_OK;
}

/* ---- asking ---------------------------------------------------------------------------------- */

const char *tw_library_folder(const tw_library *library)
{
  return library->folder;
}

size_t tw_library_count(const tw_library *library, tw_part_kind kind)
{
  return library->count[kind];
}

const tw_row *tw_library_row(const tw_library *library, tw_part_kind kind, size_t index)
{
  const tw_row *row = library->first[kind];
  while (row && index-- > 0) {
    row = row->next;
  }
  return row;
}

const tw_row *tw_library_find(const tw_library *library, tw_part_kind kind, const char *id)
{
  for (const tw_row *row = library->first[kind]; row; row = row->next) {
    if (strcmp(row->id, id) == 0) {
      return row;
    }
  }
  return NULL;
}

const char *tw_library_nearest(const tw_library *library, tw_part_kind kind, const char *id)
{
  const char *names[TW_ROW_COUNT];
  size_t n = 0;
  for (const tw_row *row = library->first[kind]; row && n < TW_ROW_COUNT; row = row->next) {
    names[n++] = row->id;
  }
  return tw_nearest_name(id, names, n);
}

tw_part_kind tw_row_kind(const tw_row *row)
{
  return row->kind;
}

const char *tw_row_id(const tw_row *row)
{
  return row->id;
}

const char *tw_row_name(const tw_row *row)
{
  return row->name;
}

const char *tw_row_part(const tw_row *row)
{
  return row->part;
}

const char *tw_row_source(const tw_row *row)
{
  return row->source;
}

tw_place tw_row_place(const tw_row *row)
{
  return row->place;
}

bool tw_row_number(const tw_row *row, const char *key, tw_quantity *out)
{
  const int k = key_index(row->kind, key);
  if (k < 0 || !row->entry[k].text || !tw_part_key_at(row->kind, (size_t)k)->unit[0]) {
    return false;
  }
  *out = row->entry[k].quantity;
  return true;
}

const char *tw_row_text(const tw_row *row, const char *key)
{
  const int k = key_index(row->kind, key);
  return k < 0 ? NULL : row->entry[k].text;
}
