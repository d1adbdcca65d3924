/* The archive: the same bytes for the same files, no tricks with names, and a reader who gets it
 * gets the same design. The report: data cannot leave the element it stands in. */
#include "page_design.h"

#include "tripwright/files.h"
#include "tripwright/report.h"

#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zip.h>

static char folder[] = "/tmp/tripwright-pack-XXXXXX";

static const char *in_folder(const char *name)
{
  static char path[2][512];
  static int turn;
  turn = 1 - turn;
  snprintf(path[turn], sizeof path[turn], "%s/%s", folder, name);
  return path[turn];
}

static int setup(void **state)
{
  assert_non_null(mkdtemp(folder));
  return page_design_setup(state);
}

static int teardown(void **state)
{
  char command[600];
  snprintf(command, sizeof command, "rm -rf '%s'", folder);
  assert_int_equal(system(command), 0);
  return page_design_teardown(state);
}

static void assert_same_file(const char *a, const char *b)
{
  size_t na = 0, nb = 0;
  char *ta = tw_file_text(a, &na, NULL), *tb = tw_file_text(b, &nb, NULL);
  assert_non_null(ta);
  assert_non_null(tb);
  assert_int_equal(na, nb);
  assert_memory_equal(ta, tb, na);
  tw_free(ta);
  tw_free(tb);
}

static void the_same_files_give_the_same_bytes(void **state)
{
  (void)state;
  const tw_pack_file files[] = {{"a.txt", "alpha", 5}, {"parts/b.yaml", "", 0}};
  tw_fault fault = {0};
  char a[512], b[512];
  snprintf(a, sizeof a, "%s", in_folder("a.zip"));
  snprintf(b, sizeof b, "%s", in_folder("b.zip"));
  assert_int_equal(tw_pack_write(a, files, 2, &fault), TW_OK);
  sleep(2); /* a date in the archive would change: zip counts in two seconds */
  assert_int_equal(tw_pack_write(b, files, 2, &fault), TW_OK);
  assert_same_file(a, b);
}

static void names_that_leave_the_folder_are_refused(void **state)
{
  (void)state;
  static const char *const names[] = {"", "/etc/x", "../x", "a/../x", "..", "a\\b"};
  tw_fault fault = {0};
  for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
    const tw_pack_file file = {names[i], "x", 1};
    assert_int_equal(tw_pack_write(in_folder("bad.zip"), &file, 1, &fault), TW_BAD_INPUT);
  }
  const tw_pack_file twice[] = {{"x", "1", 1}, {"x", "2", 1}};
  assert_int_equal(tw_pack_write(in_folder("bad.zip"), twice, 2, &fault), TW_BAD_INPUT);
  assert_int_not_equal(access(in_folder("bad.zip"), F_OK), 0);
  const tw_pack_file good = {"x", "1", 1};
  assert_int_equal(tw_pack_write("/no/such/folder/x.zip", &good, 1, &fault), TW_NO_FILE);
}

/* ---- a design there and back ---------------------------------------------------------------- */

static tw_design *read_design(const page_design *all, const tw_library *library, const char *file,
                              const tw_set *sets, size_t count)
{
  const tw_read_options options = {.units = all->units,
                                   .library = library,
                                   .need = TW_NEED_ALL,
                                   .sets = sets,
                                   .set_count = count};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  const tw_status status = tw_design_read(file, &options, messages, &design);
  for (size_t i = 0; status != TW_OK && i < tw_messages_count(messages); i++) {
    print_message("%s\n", tw_messages_at(messages, i)->text);
  }
  tw_messages_free(messages);
  assert_int_equal(status, TW_OK);
  return design;
}

static void unpack(const char *archive)
{
  zip_t *zip = zip_open(archive, ZIP_RDONLY, NULL);
  assert_non_null(zip);
  mkdir(in_folder("parts"), 0777);
  for (zip_int64_t i = 0; i < zip_get_num_entries(zip, 0); i++) {
    zip_stat_t stat;
    assert_int_equal(zip_stat_index(zip, (zip_uint64_t)i, 0, &stat), 0);
    char *data = malloc(stat.size + 1);
    zip_file_t *file = zip_fopen_index(zip, (zip_uint64_t)i, 0);
    assert_int_equal(zip_fread(file, data, stat.size), stat.size);
    zip_fclose(file);
    assert_int_equal(tw_file_replace(in_folder(stat.name), data, stat.size, NULL), TW_OK);
    free(data);
  }
  zip_discard(zip);
}

static void the_reader_gets_the_same_values(void **state)
{
  const page_design *all = *state;
  const char *file = TW_SOURCE_DIR "/examples/pillar-indexer.yaml";
  const tw_set set = {"stylus.reach", "34 mm ± 0.1"};
  tw_design *mine = read_design(all, all->library, file, &set, 1);
  const tw_pack_design_in in = {mine, file, NULL, all->library, &set, 1, "<!doctype html>"};
  tw_fault fault = {0};
  char archive[512];
  snprintf(archive, sizeof archive, "%s", in_folder("design.zip"));
  assert_int_equal(tw_pack_design(&in, archive, &fault), TW_OK);
  unpack(archive);
  tw_messages *messages = tw_messages_new();
  tw_library *library = NULL;
  assert_int_equal(tw_library_load(in_folder("parts"), all->units, messages, &library), TW_OK);
  tw_messages_free(messages);
  tw_design *theirs = read_design(all, library, in_folder("pillar-indexer.yaml"), NULL, 0);
  for (int f = 0; f < TW_FIELD_COUNT; f++) {
    const tw_value *a = tw_design_value(mine, (tw_field)f);
    const tw_value *b = tw_design_value(theirs, (tw_field)f);
    assert_int_equal(a->origin == TW_ORIGIN_UNSET, b->origin == TW_ORIGIN_UNSET);
    if (a->origin != TW_ORIGIN_UNSET && memcmp(&a->number, &b->number, sizeof a->number) != 0) {
      fail_msg("%s: %.17g became %.17g", tw_field_of((tw_field)f)->path, a->number, b->number);
    }
  }
  /* only the rows that are used travel */
  assert_true(tw_library_count(library, TW_KIND_DISC) == 1);
  assert_true(tw_library_count(library, TW_KIND_DISC) <
              tw_library_count(all->library, TW_KIND_DISC));
  tw_design_free(mine);
  tw_design_free(theirs);
  tw_library_free(library);
}

/* ---- the report's text ---------------------------------------------------------------------- */

static void data_cannot_leave_their_element(void **state)
{
  (void)state;
  json_t *data = json_pack("{s:s}", "name", "</script><script>alert(1)</script><!--");
  char *html = NULL;
  tw_fault fault = {0};
  assert_int_equal(tw_report_html("</title><b>", data, &html, &fault), TW_OK);
  json_decref(data);
  char *begin = strstr(html, "id=\"report-data\">") + strlen("id=\"report-data\">");
  char *end = strstr(begin, "</script>");
  *end = '\0';
  assert_null(strchr(begin, '<'));
  json_t *back = json_loads(begin, 0, NULL);
  assert_string_equal(json_string_value(json_object_get(back, "name")),
                      "</script><script>alert(1)</script><!--");
  json_decref(back);
  *end = '<';
  assert_non_null(strstr(html, "<title>&lt;/title&gt;&lt;b&gt;</title>"));
  tw_free(html);
}

static void every_asset_unpacks_to_its_size(void **state)
{
  (void)state;
  static const char *const names[] = {"page.html", "page.js", "page.css", "drawing.css",
                                      "icon.svg"};
  assert_int_equal(tw_asset_count(), sizeof names / sizeof names[0]);
  for (size_t i = 0; i < tw_asset_count(); i++) {
    const tw_asset *asset = tw_asset_find(names[i]);
    char *text = NULL;
    tw_fault fault = {0};
    assert_non_null(asset);
    assert_int_equal(tw_asset_text(asset, &text, &fault), TW_OK);
    assert_int_equal(strlen(text), asset->size);
    tw_free(text);
  }
  tw_asset damaged = *tw_asset_find("page.js");
  char *text = NULL;
  tw_fault fault = {0};
  damaged.gzip_size /= 2;
  assert_int_equal(tw_asset_text(&damaged, &text, &fault), TW_INTERNAL);
  assert_null(tw_asset_find("page.exe"));
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_same_files_give_the_same_bytes),
      cmocka_unit_test(names_that_leave_the_folder_are_refused),
      cmocka_unit_test(the_reader_gets_the_same_values),
      cmocka_unit_test(data_cannot_leave_their_element),
      cmocka_unit_test(every_asset_unpacks_to_its_size),
  };
  return cmocka_run_group_tests(tests, setup, teardown);
}
