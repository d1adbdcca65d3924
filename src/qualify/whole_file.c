/* whole_file.c: a small file read whole, with messages that name it. */
#include "inner.h"
#include "tripwright/files.h"

#include <stdio.h>

tw_status tw_text_of_file(const char *path, size_t most, tw_messages *messages, char **out,
                          size_t *length)
{
  tw_fault fault = {0};
  *out = NULL;
  const tw_status status = tw_file_read(path, most, &fault, out, length);
  if (status == TW_NO_FILE && fault.hint[0] == '\0') {
    snprintf(fault.hint, sizeof fault.hint, "is the name right, and may you read it?");
  }
  if (status != TW_OK) { /* the text names the file */
    tw_messages_add_fault(messages, &fault, (tw_place){NULL, 0, 0}, NULL);
  }
  return status;
}
