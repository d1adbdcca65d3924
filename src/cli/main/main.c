/* main.c: the command. Everything it does is in the verb table. */
#include "verb.h"

#include <gsl/gsl_errno.h>
#include <locale.h>
#include <signal.h>

int main(int argc, char **argv)
{
  /* numbers are read and written with a decimal point wherever the user lives */
  setlocale(LC_ALL, "C");
  signal(SIGPIPE, SIG_IGN);
  /* its answers are looked at where it is called; it must not end the program */
  gsl_set_error_handler_off();
  return tw_cli_main(argc, argv, stdout, stderr);
}
