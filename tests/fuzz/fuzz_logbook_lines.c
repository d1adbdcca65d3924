/* Any bytes as a file of log lines, into an empty log and into one that has entries: taken or left
 * out with a message each, nothing else; what was taken exports and comes in again as known, and
 * the log is whole but for numbers that are missing. */
#include "fuzz_main.h"
#include "tripwright/logbook.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void must(bool true_thing, const char *what)
{
  if (!true_thing) {
    fprintf(stderr, "broken: %s\n", what);
    abort();
  }
}

static tw_logbook *new_log(void)
{
  tw_logbook *log = NULL;
  const tw_logbook_options options = {.write = true, .create = true};
  must(tw_logbook_open(":memory:", &options, &log, NULL) == TW_OK, "a log in memory");
  return log;
}

static bool count_right(void *self, const tw_log_entry *entry)
{
  must(tw_is_sha256(entry->id) && entry->seq > 0 && entry->clock > 0 && entry->kind[0] &&
           json_is_object(entry->body),
       "an entry");
  ++*(size_t *)self;
  return true;
}

static void import(tw_logbook *log, const uint8_t *data, size_t size)
{
  tw_messages *messages = tw_messages_new();
  tw_log_taken taken;
  tw_fault fault = {0};
  const size_t before = tw_logbook_count(log);
  const tw_status status =
      tw_logbook_import_text(log, "f", (const char *)data, size, messages, &taken, &fault);
  must(status == TW_OK || fault.text[0], "a refusal has a reason");
  must(status == TW_OK || taken.entries == 0, "refused as a whole");
  must(tw_messages_errors(messages) == taken.left_out, "a message for each line left out");
  must(tw_logbook_count(log) == before + taken.entries, "what is said is what came in");
  size_t count = 0;
  must(tw_logbook_each(log, NULL, count_right, &count, NULL) == TW_OK, "it reads");
  must(count == before + taken.entries, "all of it");
  if (status == TW_OK) { /* again: nothing new */
    tw_log_taken again;
    must(tw_logbook_import_text(log, "f", (const char *)data, size, messages, &again, NULL) ==
             TW_OK,
         "a second time");
    must(again.entries == 0 && again.documents == 0 && again.left_out == taken.left_out,
         "nothing new the second time");
  }
  tw_messages_free(messages);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
  tw_logbook *log = new_log();
  import(log, data, size);
  json_t *body = json_pack("{s:s}", "note", "between");
  const tw_log_draft draft = {.kind = "note", .unit = "1", .body = body};
  must(tw_logbook_append(log, &draft, 1, NULL, NULL) == TW_OK, "the log goes on");
  json_decref(body);
  import(log, data, size / 2);
  tw_logbook_close(log);
  return 0;
}
