/* verb_pack.c: a design and all it needs in one archive. */
#include "verb.h"

#include "tripwright/drawing.h"
#include "tripwright/report.h"
#include "verb_report.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* the shop file that reading took: --shop, or shop.yaml beside the design; NULL when none is */
static const char *shop_file(const tw_cli *cli, char *room, size_t size)
{
  const char *given = tw_cli_text(cli, "shop", NULL);
  if (given) {
    return given;
  }
  const char *file = cli->operand[0], *slash = strrchr(file, '/');
  snprintf(room, size, "%.*sshop.yaml", slash ? (int)(slash - file) + 1 : 0, file);
  return access(room, R_OK) == 0 ? room : NULL;
}

static tw_exit pack(tw_cli *cli, const tw_design *design, const char *date,
                    const tw_read_options *read)
{
  char *html = NULL, room[4096];
  tw_fault fault = {0};
  const char *path = tw_cli_text(cli, "out", "design.zip");
  const tw_drawing_options drawing = tw_drawing_defaults();
  tw_exit code = tw_cli_report(cli, design, &drawing, date, NULL, &html);
  if (code == TW_EXIT_DONE) {
    const tw_pack_design_in in = {design,       cli->operand[0], shop_file(cli, room, sizeof room),
                                  cli->library, read->sets,      read->set_count,
                                  html};
    code = tw_pack_design(&in, path, &fault) == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
  }
  if (code == TW_EXIT_DONE) {
    fprintf(cli->out, "%s\n", path);
  }
  tw_free(html);
  return code;
}

static tw_exit run(tw_cli *cli)
{
  tw_set *sets = tw_alloc((size_t)cli->given_count + 1, sizeof *sets);
  tw_read_options read = {0};
  tw_design *design = NULL;
  if (!sets) {
    return TW_EXIT_INTERNAL;
  }
  const char *date = "";
  tw_exit code =
      tw_cli_date(cli, &date) ? tw_cli_read_options(cli, TW_NEED_ALL, sets, &read) : TW_EXIT_USAGE;
  if (code == TW_EXIT_DONE) {
    code = tw_cli_design(cli, cli->operand[0], TW_NEED_ALL, &design);
  }
  if (code == TW_EXIT_DONE) {
    code = pack(cli, design, date, &read);
  }
  tw_design_free(design);
  tw_cli_free_sets(sets, read.set_count);
  return code;
}

static const tw_option options[] = {
    {"out", "FILE", "name of the archive (also -o FILE); default design.zip", false},
    {"date", "YYYY-MM-DD", "date in the report (default: none, so that the bytes stay the same)",
     false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_pack = {
    .name = "pack",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "design, shop file, library rows used and report in one zip archive",
    .details = "Whoever gets the archive gets the same figures; the same design gives the same "
               "bytes on any day.",
    .options = options,
    .takes = TW_TAKES_DESIGN | TW_TAKES_A_FILE | TW_GIVES_A_FILE,
    .run = run,
};
