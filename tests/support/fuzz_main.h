/* fuzz_main.h: the main of a fuzzer that is built without libFuzzer: replays the files and folders
 * it is given, then `--mutate N` random changes of each (`--seed S`). With clang's
 * -fsanitize=fuzzer this header is empty. */
#ifndef TW_TEST_FUZZ_MAIN_H
#define TW_TEST_FUZZ_MAIN_H

#include <stddef.h>
#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#ifndef TW_FUZZ_ENGINE

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FUZZ_SIZE 65536

static uint64_t fuzz_state = 1;

static uint64_t fuzz_random(void)
{
  fuzz_state ^= fuzz_state << 13; /* xorshift, 64 bit */
  fuzz_state ^= fuzz_state >> 7;
  fuzz_state ^= fuzz_state << 17;
  return fuzz_state;
}

/* one to six changes: flip, delete, double a stretch, insert something that matters */
static size_t fuzz_mutate(uint8_t *data, size_t size)
{
  static const char *const word[] = {": ",  "- ", "{",    "}",    "[",   "]",   "\"",   "'",
                                     "\n",  "\t", "#",    "&a ",  "*a",  "!",   "|",    ">",
                                     "%",   ",",  "1e9",  "-",    "+1/", "± ",  "nan ", " mm",
                                     "4k7", "..", "\xff", "--- ", "? ",  "inf", "\r\n", "\xc2\x85"};
  for (uint64_t n = 1 + fuzz_random() % 6; n > 0; n--) {
    const size_t at = size ? (size_t)(fuzz_random() % size) : 0;
    const size_t length = size - at < 16 ? size - at : (size_t)(fuzz_random() % 16);
    const char *w = word[fuzz_random() % (sizeof word / sizeof word[0])];
    switch (fuzz_random() % 4) {
    case 0:
      if (size) {
        data[at] = (uint8_t)fuzz_random();
      }
      break;
    case 1:
      memmove(data + at, data + at + length, size - at - length);
      size -= length;
      break;
    case 2:
      if (size + length < FUZZ_SIZE) {
        memmove(data + at + length, data + at, size - at);
        size += length;
      }
      break;
    default:
      if (size + strlen(w) < FUZZ_SIZE) {
        memmove(data + at + strlen(w), data + at, size - at);
        memcpy(data + at, w, strlen(w));
        size += strlen(w);
      }
      break;
    }
  }
  return size;
}

static long fuzz_file(const char *path, long mutations)
{
  static uint8_t whole[FUZZ_SIZE], changed[FUZZ_SIZE];
  FILE *f = fopen(path, "rb");
  if (!f) {
    fprintf(stderr, "%s: cannot be read\n", path);
    exit(1);
  }
  const size_t size = fread(whole, 1, sizeof whole, f);
  fclose(f);
  LLVMFuzzerTestOneInput(whole, size);
  for (long i = 0; i < mutations; i++) {
    memcpy(changed, whole, size);
    LLVMFuzzerTestOneInput(changed, fuzz_mutate(changed, size));
  }
  return 1 + mutations;
}

static int fuzz_by_name(const void *a, const void *b)
{
  return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static long fuzz_path(const char *path, long mutations)
{
  DIR *dir = opendir(path);
  if (!dir) {
    return fuzz_file(path, mutations);
  }
  static char *name[4096];
  size_t n = 0;
  long runs = 0;
  for (struct dirent *e; n < 4096 && (e = readdir(dir));) {
    char inside[1200];
    snprintf(inside, sizeof inside, "%s/%s", path, e->d_name);
    DIR *nested = opendir(inside);
    if (nested) {
      closedir(nested);
    } else {
      name[n++] = strdup(inside);
    }
  }
  closedir(dir);
  qsort(name, n, sizeof name[0], fuzz_by_name);
  for (size_t i = 0; i < n; i++) {
    runs += fuzz_file(name[i], mutations);
    free(name[i]);
  }
  return runs;
}

int main(int argc, char **argv)
{
  long mutations = 0, runs = 0;
  for (int i = 1; i + 1 < argc; i++) {
    if (strcmp(argv[i], "--mutate") == 0) {
      mutations = strtol(argv[i + 1], NULL, 10);
    } else if (strcmp(argv[i], "--seed") == 0) {
      fuzz_state = strtoull(argv[i + 1], NULL, 10) * 2654435761u + 1;
    }
  }
  for (int i = 1; i < argc; i++) {
    if (strncmp(argv[i], "--", 2) == 0) {
      i++;
    } else {
      runs += fuzz_path(argv[i], mutations);
    }
  }
  printf("%ld runs\n", runs);
  return runs > 0 ? 0 : 1;
}

#endif
#endif
