/* verb_serve.c: the page on a loopback address, until Ctrl-C. */
#include "verb.h"

#include "tripwright/files.h"
#include "tripwright/serve.h"

#include <signal.h>
#include <time.h>

static volatile sig_atomic_t terminated;

static void on_terminate(int number)
{
  (void)number;
  terminated = 1;
}

static void wait_for_the_end(void)
{
  const struct timespec pause = {.tv_nsec = 100000000};
  while (!tw_cli_interrupted() && !terminated) {
    nanosleep(&pause, NULL);
  }
}

static tw_exit serve(tw_cli *cli, const tw_serve_file *file, const tw_serve_options *options)
{
  tw_serve_model model;
  tw_server *server = NULL;
  tw_fault fault = {0};
  tw_status status = tw_serve_design(file, &model, &fault);
  if (status != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  status = tw_server_start(&model, options, &server, &fault);
  if (status == TW_OK) {
    struct sigaction action = {.sa_handler = on_terminate};
    sigaction(SIGTERM, &action, NULL);
    (void)tw_cli_progress(cli); /* Ctrl-C asks instead of killing */
    fprintf(cli->out, "%s\n", tw_server_address(server));
    fprintf(cli->err, "Open this address in a browser on this machine; Ctrl-C ends the server.\n");
    fflush(cli->out);
    wait_for_the_end();
  }
  tw_server_stop(server);
  tw_serve_design_free(&model);
  return status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
}

static tw_exit run(tw_cli *cli)
{
  tw_serve_options options = tw_serve_defaults();
  long port = 0;
  if (!tw_cli_count(cli, "port", 0, 65535, &port)) {
    return TW_EXIT_USAGE;
  }
  options.port = (uint16_t)port;
  tw_set *sets = tw_alloc((size_t)cli->given_count + 1, sizeof *sets);
  tw_read_options read = {0};
  if (!sets) {
    return TW_EXIT_INTERNAL;
  }
  tw_exit code = tw_cli_read_options(cli, TW_NEED_ALL, sets, &read);
  FILE *there = NULL;
  tw_fault fault = {0};
  if (code == TW_EXIT_DONE && tw_file_open(cli->operand[0], &fault, &there) != TW_OK) {
    if (!fault.hint[0]) {
      snprintf(fault.hint, sizeof fault.hint, "tripwright new makes a first one");
    }
    code = tw_cli_fault(cli, &fault);
  }
  if (there) {
    fclose(there);
  }
  if (code == TW_EXIT_DONE) {
    const tw_serve_file file = {cli->operand[0], read.shop, read.units,
                                read.library,    read.sets, read.set_count};
    code = serve(cli, &file, &options);
  }
  tw_cli_free_sets(sets, read.set_count);
  return code;
}

static const tw_option options_of_serve[] = {
    {"port", "N", "listen on this port (default: any free one)", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_serve = {
    .name = "serve",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "see the probe in a browser: change it, try it, save it",
    .details =
        "Prints an address of this machine that only this machine can reach, with the secret of "
        "this run behind the #. Nothing is sent anywhere. Values are tried without saving; Save "
        "rewrites only their text in the file. An edit made in another editor appears by itself.",
    .options = options_of_serve,
    .takes = TW_TAKES_DESIGN | TW_TAKES_A_FILE | TW_GIVES_A_FILE,
    .run = run,
};
