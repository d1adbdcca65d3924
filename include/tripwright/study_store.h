/* study_store.h: a file that keeps the builds of a study, so that it can be stopped and resumed,
 * and parts run elsewhere can be merged.
 *
 * The file (SQLite 3) belongs to one study: design, laws, seed, measures and program version are
 * written into it and compared when it is opened; the file of another study is refused, never
 * overwritten. A round of builds is written as a whole or not at all; after a kill, a power cut or
 * a full disk the rounds before it are there. One process writes at a time. A tw_store is used by
 * one thread. Model: docs/models/study.md 5.
 */
#ifndef TRIPWRIGHT_STUDY_STORE_H
#define TRIPWRIGHT_STUDY_STORE_H

#include "tripwright/study.h"

/* what a study is */
typedef struct tw_store_key {
  const char *design;    /* name and revision, for messages */
  uint64_t design_hash;  /* of everything in the design that the model sees */
  uint64_t sampler_hash; /* tw_sampler_hash */
  const char *level;     /* which model: "engine", "fast" */
  const char *outputs;   /* names of the outputs, in order, separated by spaces */
  size_t output_count;
} tw_store_key;

typedef struct tw_store tw_store;

/* Open the file of this study, or make it. TW_BAD_INPUT: it belongs to another study (the text says
 * in what it differs) or is no study file; TW_NO_FILE: it cannot be opened, or another process
 * writes to it. */
tw_status tw_store_open(const char *path, const tw_store_key *key, tw_store **out, tw_fault *fault);
void tw_store_close(tw_store *store);

/* Builds in the file. */
tw_status tw_store_count(tw_store *store, size_t *count, tw_fault *fault);
/* Put every stored build of the range of `builds` into it. */
tw_status tw_store_load(tw_store *store, tw_builds *builds, tw_fault *fault);
/* Store the computed builds index .. index + count - 1, in one piece. TW_NO_FILE on a full disk:
 * what was stored before is safe. Fits tw_spread_options.save with the store as self. */
tw_status tw_store_save(void *store, const tw_builds *builds, size_t index, size_t count,
                        tw_fault *fault);
/* Take over the builds of another file of the same study; builds in both must agree to the bit. */
tw_status tw_store_merge(tw_store *store, const char *path, tw_fault *fault);

#endif
