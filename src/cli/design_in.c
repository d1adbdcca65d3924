/* design_in.c: reading a design for a verb, with the options that change how it is read. */
#include "verb.h"

#include <string.h>

tw_library *tw_cli_library(tw_cli *cli)
{
  tw_units *units = tw_cli_units(cli);
  if (!units || cli->library) {
    return cli->library;
  }
  tw_messages *messages = tw_messages_new();
  const tw_status status =
      messages ? tw_library_load(tw_cli_text(cli, "parts", NULL), units, messages, &cli->library)
               : TW_NO_MEMORY;
  if (status != TW_OK && tw_messages_count(messages) == 0) {
    fprintf(cli->err, "error: the library of parts: %s\n", tw_status_text(status));
  }
  tw_cli_messages(cli, messages);
  tw_messages_free(messages);
  return cli->library;
}

bool tw_cli_system(const tw_cli *cli, tw_system *system)
{
  const char *text = tw_cli_text(cli, "units", "metric");
  if (strcmp(text, "metric") != 0 && strcmp(text, "inch") != 0) {
    tw_cli_usage(cli, "--units: \"%s\" is neither metric nor inch", text);
    return false;
  }
  *system = strcmp(text, "inch") == 0 ? TW_INCH : TW_METRIC;
  return true;
}

/* "path=text" cut at the first "="; the path is copied into the arena of the command's life */
static bool cut_set(const tw_cli *cli, const char *given, tw_set *set)
{
  const char *equals = strchr(given, '=');
  if (!equals || equals == given) {
    tw_cli_usage(cli, "--set: \"%s\" is not PATH=TEXT", given);
    return false;
  }
  char *path = tw_copy_text(given);
  if (!path) {
    return false;
  }
  path[equals - given] = '\0';
  set->path = path;
  set->text = equals + 1;
  return true;
}

void tw_cli_free_sets(tw_set *sets, size_t count)
{
  for (size_t i = 0; i < count; i++) {
    tw_free((char *)(uintptr_t)sets[i].path);
  }
  tw_free(sets);
}

tw_exit tw_cli_read_options(tw_cli *cli, unsigned needs, tw_set *sets, tw_read_options *options)
{
  *options = (tw_read_options){.need = needs, .shop = tw_cli_text(cli, "shop", NULL), .sets = sets};
  for (const char *given; (given = tw_cli_text_at(cli, "set", (int)options->set_count));) {
    if (!cut_set(cli, given, &sets[options->set_count])) {
      return TW_EXIT_USAGE;
    }
    options->set_count++;
  }
  options->library = tw_cli_library(cli);
  options->units = cli->units;
  return options->library ? TW_EXIT_DONE : TW_EXIT_FILE;
}

tw_exit tw_cli_design(tw_cli *cli, const char *file, unsigned needs, tw_design **out)
{
  *out = NULL;
  tw_set *sets = tw_alloc((size_t)cli->given_count + 2, sizeof *sets);
  tw_messages *messages = tw_messages_new();
  tw_read_options options = {0};
  size_t own = 0;
  tw_exit code = TW_EXIT_INTERNAL;
  if (sets && messages) {
    code = tw_cli_read_options(cli, needs, sets, &options);
    own = options.set_count;
    if (cli->also) {
      sets[options.set_count++] = *cli->also;
    }
    if (code == TW_EXIT_DONE) {
      code = tw_exit_of(tw_design_read(file, &options, messages, out));
    }
  }
  tw_cli_messages(cli, messages);
  if (*out) {
    tw_design_free(cli->last);
    cli->last = tw_design_clone(*out);
  }
  if (code == TW_EXIT_INTERNAL) {
    fprintf(cli->err, "error: %s\n", tw_status_text(TW_NO_MEMORY));
  }
  tw_messages_free(messages);
  tw_cli_free_sets(sets, own);
  return code;
}

tw_exit tw_cli_assessed(tw_cli *cli, const char *file, const tw_assess_options *options,
                        tw_design **design, tw_assessment **out)
{
  tw_fault fault = {0};
  *design = NULL;
  const tw_exit code = tw_cli_design(cli, file, TW_NEED_ALL, design);
  *out = code == TW_EXIT_DONE ? tw_alloc(1, sizeof **out) : NULL;
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const tw_status status = *out ? tw_assess(*design, options, *out, &fault)
                                : tw_fail(&fault, TW_NO_MEMORY, "", "", "out of memory");
  return status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
}
