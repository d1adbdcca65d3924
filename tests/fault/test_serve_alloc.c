/* The n-th allocation fails, for every n: drawings, the archive and the report's text give
 * TW_NO_MEMORY or succeed, and nothing is lost or freed twice (run under the sanitizers). */
#include "page_design.h"

#include "tripwright/drawing.h"
#include "tripwright/report.h"
#include "tripwright/serve.h"

#include <stdlib.h>
#include <unistd.h>

typedef tw_status work_fn(const tw_design *design);

static tw_status draw_section(const tw_design *design)
{
  char *svg = NULL;
  const tw_status status = tw_drawing_make("section", design, NULL, &svg, NULL);
  tw_free(svg);
  return status;
}

static tw_status draw_gasket(const tw_design *design)
{
  char *svg = NULL;
  const tw_status status = tw_drawing_make("gasket", design, NULL, &svg, NULL);
  tw_free(svg);
  return status;
}

static tw_status write_archive(const tw_design *design)
{
  (void)design;
  const tw_pack_file file = {"x", "content", 7};
  return tw_pack_write("/tmp/tripwright-alloc.zip", &file, 1, NULL);
}

static tw_status write_report(const tw_design *design)
{
  json_t *data = json_pack("{s:s, s:s}", "name", tw_design_name(design), "a", "<b><c>");
  char *html = NULL;
  const tw_status status = tw_report_html("x", data, &html, NULL);
  json_decref(data);
  tw_free(html);
  return status;
}

/* a server that cannot be built leaves nothing behind */
static tw_status start_server(const tw_design *design)
{
  (void)design;
  const tw_serve_file file = {.path = "/dev/null"};
  tw_serve_model model = {0};
  tw_server *server = NULL;
  tw_status status = tw_serve_design(&file, &model, NULL);
  if (status == TW_OK) {
    status = tw_server_start(&model, NULL, &server, NULL);
  }
  tw_server_stop(server);
  tw_serve_design_free(&model);
  return status;
}

static void fail_every(const tw_design *design, work_fn *work, bool always)
{
  long n = 1;
  for (; n < 10000; n++) {
    tw_alloc_fail_at(n, always);
    const tw_status status = work(design);
    tw_alloc_fail_at(0, false);
    if (status == TW_OK) {
      break;
    }
    assert_int_equal(status, TW_NO_MEMORY);
  }
  print_message("%ld allocations\n", n - 1);
  assert_true(n > 1 && n < 10000);
}

static void every_allocation_may_fail(void **state)
{
  work_fn *const works[] = {draw_section, draw_gasket, write_archive, write_report, start_server};
  tw_design *design = page_design_with(*state, tw_design_template(TW_SEAT_PIVOT), NULL);
  assert_non_null(design);
  for (size_t i = 0; i < sizeof works / sizeof works[0]; i++) {
    fail_every(design, works[i], false);
    fail_every(design, works[i], true);
  }
  unlink("/tmp/tripwright-alloc.zip");
  tw_design_free(design);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(every_allocation_may_fail)};
  return cmocka_run_group_tests(tests, page_design_setup, page_design_teardown);
}
