/* Reading a long recording: 100 MB of CSV by our reader and by NumPy in the same run, and a WAV by
 * our reader and by libsndfile. Processor seconds of one core, least of three; CSV: what, ours
 * (MB/s), theirs (MB/s), ratio; the last row is our peak memory in MB, which counts the whole
 * process. */
#include "tripwright/capture.h"

#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

#define CSV_BYTES   100e6
#define THEIR_BYTES 10e6 /* NumPy gets a tenth: it takes a second for a few MB */
#define WAV_FRAMES  16000000
#define TURNS       3

static double now(void)
{
  struct timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double write_csv(const char *path, double bytes)
{
  FILE *f = fopen(path, "w");
  double done = f ? fprintf(f, "s,V\n") : 0;
  for (long i = 0; f && done < bytes; i++) {
    const double t = 1e-6 * (double)i;
    done += fprintf(f, "%.6f,%.5f\n", t,
                    i < 1000000 ? 0 : exp(-(t - 1) / 0.3) + 0.001 * (double)(i % 7));
  }
  return f && fclose(f) == 0 ? done : 0;
}

static double seconds_to_read(const char *path)
{
  double least = 1e9;
  for (int k = 0; k < TURNS; k++) {
    tw_messages *m = tw_messages_new();
    tw_capture_record *r = NULL;
    const double start = now();
    const tw_status status = tw_capture_read(path, NULL, m, &r);
    const double took = now() - start;
    least = status == TW_OK && took < least ? took : least;
    tw_capture_record_free(r);
    tw_messages_free(m);
  }
  return least;
}

/* NumPy's own reader of tables, in its own process; processor seconds, 0 when there is none */
static double seconds_of_numpy(const char *path)
{
  char command[600];
  double seconds = 0;
  snprintf(command, sizeof command,
           "python3 -c 'import numpy, time; a = time.process_time(); "
           "numpy.loadtxt(\"%s\", delimiter=\",\", skiprows=1); print(time.process_time() - a)' "
           "2>/dev/null",
           path);
  FILE *f = popen(command, "r");
  if (f) {
    if (fscanf(f, "%lf", &seconds) != 1) {
      seconds = 0;
    }
    pclose(f);
  }
  return seconds;
}

static double write_wav(const char *path)
{
  SF_INFO info = {.samplerate = 48000, .channels = 1, .format = SF_FORMAT_WAV | SF_FORMAT_PCM_24};
  SNDFILE *f = sf_open(path, SFM_WRITE, &info);
  double block[4096];
  for (long i = 0; f && i < WAV_FRAMES; i += 4096) {
    for (int k = 0; k < 4096; k++) {
      block[k] = 0.5 * sin(1e-3 * (double)(i + k));
    }
    sf_writef_double(f, block, 4096);
  }
  return f && sf_close(f) == 0 ? 3e-6 * WAV_FRAMES : 0;
}

static double seconds_of_sndfile(const char *path)
{
  double least = 1e9, block[4096];
  for (int k = 0; k < TURNS; k++) {
    SF_INFO info = {0};
    SNDFILE *f = sf_open(path, SFM_READ, &info);
    const double start = now();
    while (f && sf_readf_double(f, block, 4096) > 0) {
    }
    least = f ? fmin(least, now() - start) : least;
    if (f) {
      sf_close(f);
    }
  }
  return least;
}

static void row(const char *what, double ours, double theirs)
{
  printf("%s,%.4g,%.4g,%.3g\n", what, ours, theirs, theirs > 0 ? ours / theirs : 0);
}

int main(void)
{
  char path[] = "/tmp/tw_bench_capture_XXXXXX", small[] = "/tmp/tw_bench_capture_XXXXXX";
  close(mkstemp(path));
  close(mkstemp(small));
  printf("# MB/s of processor time; theirs: numpy.loadtxt, libsndfile; peak memory in MB\n");
  printf("what,ours,theirs,ratio\n");
  const double bytes = write_csv(path, CSV_BYTES), part = write_csv(small, THEIR_BYTES);
  const double ours = seconds_to_read(path), theirs = seconds_of_numpy(small);
  struct rusage use;
  getrusage(RUSAGE_SELF, &use);
  row("CSV of 100 MB", bytes * 1e-6 / ours, theirs > 0 ? part * 1e-6 / theirs : 0);
  const double wav = write_wav(path);
  row("WAV of 48 MB", wav / seconds_to_read(path), wav / seconds_of_sndfile(path));
  printf("peak memory after the CSV,%.1f,,\n", (double)use.ru_maxrss / 1024);
  remove(path);
  remove(small);
  return 0;
}
