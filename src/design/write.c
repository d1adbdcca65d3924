/* write.c: replace a design file in one step, and only if it is still the one that was read. */
#include "inside.h"

#include <string.h>

/* the text on disk, if it is still that of `design` */
static tw_status unchanged_text(const tw_design *design, tw_fault *fault, char **text,
                                size_t *length)
{
  const tw_store *store = design->store;
  if (!store->from_disk) {
    return tw_fail(fault, TW_NO_FILE, "", "save the design first", "this design is in no file");
  }
  const tw_status status = tw_file_read(store->file, TW_FILE_LIMIT, fault, text, length);
  if (status != TW_OK) {
    return status;
  }
  if (*length != store->length || tw_text_hash(*text, *length) != store->hash) {
    tw_free(*text);
    *text = NULL;
    return tw_fail(fault, TW_NO_FILE, "", "read it again, then make the change",
                   "%.120s was changed on disk meanwhile; nothing is written", store->file);
  }
  return TW_OK;
}

tw_status tw_design_write(const tw_design *design, size_t n, const tw_set *sets,
                          const tw_read_options *options, tw_messages *messages)
{
  char *old = NULL, *text = NULL;
  size_t length = 0;
  tw_fault fault = {0};
  tw_design *check = NULL;
  tw_status status = unchanged_text(design, &fault, &old, &length);
  if (status == TW_OK) {
    status = tw_design_edit(old, length, n, sets, &fault, &text);
  }
  tw_free(old);
  if (status == TW_OK) {
    const size_t errors = tw_messages_errors(messages);
    status = tw_design_parse(text, strlen(text), design->store->file, options, messages, &check);
    if (tw_messages_errors(messages) > errors) {
      fault.text[0] = '\0'; /* said already */
    }
    tw_design_free(check);
  }
  if (status == TW_OK) {
    status = tw_file_replace(design->store->file, text, strlen(text), &fault);
  }
  tw_free(text);
  if (status != TW_OK && fault.text[0]) {
    tw_messages_add_fault(messages, &fault, (tw_place){0}, NULL);
  }
  return status;
}
