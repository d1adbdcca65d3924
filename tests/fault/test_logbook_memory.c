/* Every allocation of entering, asking, exporting, importing fails once: an error, nothing half
 * written, nothing lost (the leaks are told by the address sanitizer). */
#include "log_fixture.h"
#include "tripwright/logbook_ask.h"

static bool stop(void *self, const tw_log_entry *entry)
{
  (void)self;
  (void)entry;
  return true;
}

/* one round of everything; the first failure ends it */
static tw_status round_of(tw_logbook *log, tw_fault *fault)
{
  json_t *body = json_pack("{s:s, s:f, s:f, s:s, s:s}", "measure", "support.ledge_radius", "value",
                           9.31e-3, "drawn", 9.3e-3, "process", "print", "unit_of_value", "m");
  const tw_log_draft draft = {.kind = "reading", .unit = "7", .body = body};
  tw_messages *messages = tw_messages_new();
  tw_log_made *made = NULL;
  tw_log_piece *piece = NULL;
  tw_log_yield *yield = NULL;
  tw_log_open *open = NULL;
  size_t n = 0, lines;
  tw_log_taken taken;
  tw_status status = messages ? TW_OK : TW_NO_MEMORY;
  status = status == TW_OK ? tw_logbook_append(log, &draft, 1, NULL, fault) : status;
  status = status == TW_OK ? tw_logbook_each(log, NULL, stop, NULL, fault) : status;
  const tw_log_filter filter = {.measure = "support.ledge_radius"};
  status = status == TW_OK ? tw_logbook_pieces(log, &filter, &piece, &n, fault) : status;
  tw_free(piece);
  status = status == TW_OK ? tw_logbook_yield(log, true, &yield, &n, fault) : status;
  tw_free(yield);
  status = status == TW_OK ? tw_logbook_open_units(log, &open, &n, fault) : status;
  tw_free(open);
  status = status == TW_OK ? tw_logbook_made(log, &made, &n, fault) : status;
  tw_logbook_made_free(made, status == TW_OK ? n : 0);
  status = status == TW_OK ? tw_logbook_export(log, log_path("m.jsonl"), messages, &lines, fault)
                           : status;
  status = status == TW_OK ? tw_logbook_import(log, log_path("m.jsonl"), messages, &taken, fault)
                           : status;
  tw_messages_free(messages);
  json_decref(body);
  return status;
}

static void test_every_allocation(void **state)
{
  (void)state;
  long n = 1;
  for (bool reached = true; reached; n++) {
    tw_fault fault = {0};
    tw_logbook *log = log_open(":memory:", true);
    assert_int_equal(round_of(log, &fault), TW_OK);
    tw_alloc_fail_at(n, false);
    const tw_status status = round_of(log, &fault);
    reached = tw_alloc_seen() >= n;
    tw_alloc_fail_at(0, false);
    assert_true(status == TW_OK || status == TW_NO_MEMORY);
    assert_true(status == TW_OK || reached);
    const size_t count = tw_logbook_count(log);
    assert_true(count == 2 || (count == 1 && status == TW_NO_MEMORY));
    assert_int_equal(log_troubles(log), 0);
    tw_logbook_close(log);
  }
  print_message("%ld allocations failed one by one\n", n - 2);
  assert_true(n > 20);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_every_allocation)};
  return cmocka_run_group_tests(tests, log_set_up, log_tear_down);
}
