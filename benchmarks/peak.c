/* peak.c COMMAND...: processor seconds and peak memory (MB) of one command, its output thrown away.
 * A small program of its own: what starts a command lends it its own peak. */
#define _DEFAULT_SOURCE /* wait4 */
#include <fcntl.h>
#include <stdio.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

int main(int argc, char **argv)
{
  const pid_t child = argc > 1 ? fork() : -1;
  if (child == 0) {
    const int nowhere = open("/dev/null", O_WRONLY);
    dup2(nowhere, 1);
    execvp(argv[1], argv + 1);
    _exit(127);
  }
  int ended = 0;
  struct rusage used;
  if (child < 0 || wait4(child, &ended, 0, &used) != child || !WIFEXITED(ended) ||
      WEXITSTATUS(ended) > 1) {
    return 1;
  }
  printf("%.3f,%.1f\n",
         (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) +
             1e-6 * (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec),
         (double)used.ru_maxrss / 1024);
  return 0;
}
