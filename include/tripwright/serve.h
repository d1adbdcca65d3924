/* serve.h: the page's server: HTTP and JSON on the loopback address, for one design.
 *
 * The server knows nothing of probes: what it serves comes from a model, a table of functions that
 * turn a JSON request into a JSON document. tw_serve_design makes such a model from a design file.
 * Guards: it listens on 127.0.0.1 only; a Host header must name that address; every request under
 * /api/ needs the token of this run; every one that is not a GET needs the page's own Origin and a
 * JSON body; bodies, headers, connections and times are limited; no path on disk ever comes from
 * the client (to compare designs it may name one that the server has listed). docs/develop/page.md
 * lists the routes. A server owns its threads: one for the sockets, two for the work, one that
 * watches the file. The model's functions may be called from both work threads at once and must not
 * be freed before tw_server_stop has returned.
 */
#ifndef TRIPWRIGHT_SERVE_H
#define TRIPWRIGHT_SERVE_H

#include "tripwright/base.h"
#include "tripwright/page.h"
#include "tripwright/parts.h"

#include <jansson.h>

/* What the page can ask for. Each function leaves a new reference in *out, also on TW_BAD_INPUT
 * and TW_NO_ANSWER when there is more to say than the fault does (messages with places). */
typedef struct tw_serve_model {
  void *self;
  /* the design as it stands on disk now: {"file", "name", "fingerprint", "fields", "messages"} */
  tw_status (*open)(void *self, json_t **out, tw_fault *fault);
  /* one document: request {"view": NAME, "set": {PATH: TEXT}, ...}; `progress` stops it; `partial`
   * (NULL: nobody looks) is given what is known so far. *out may hold what was done on
   * TW_CANCELLED too. */
  tw_status (*view)(void *self, const json_t *request, const tw_progress *progress,
                    const tw_page_partial *partial, json_t **out, tw_fault *fault);
  /* write changed values: request {"set": {PATH: TEXT}, "fingerprint": seen}; *conflict,
   * and nothing is written, when the file on disk is another than the one the page has seen */
  tw_status (*save)(void *self, const json_t *request, bool *conflict, json_t **out,
                    tw_fault *fault);
  /* fingerprint of the file as it is now; cheap, called five times a second */
  void (*fingerprint)(void *self, char out[TW_FINGERPRINT]);
  /* A request that may take minutes: of those one runs at a time, so that a thread is left for the
   * others. Computes nothing. NULL: none is. */
  bool (*takes_long)(void *self, const json_t *request);
} tw_serve_model;

/* A model of one design file. `sets` (may be 0 of them) are held over the file as --set does.
 * Everything given must outlive the model. The file is read anew for each request. */
typedef struct tw_serve_file {
  const char *path;
  const char *shop; /* NULL: shop.yaml beside the design if there is one */
  tw_units *units;
  const tw_library *library;
  const tw_set *sets;
  size_t set_count;
} tw_serve_file;
tw_status tw_serve_design(const tw_serve_file *file, tw_serve_model *out, tw_fault *fault);
void tw_serve_design_free(tw_serve_model *model);

typedef struct tw_serve_options {
  uint16_t port;          /* 0: any free one */
  size_t body_limit;      /* bytes of a request body */
  unsigned connections;   /* at once; more wait in the queue of the system */
  double request_seconds; /* a request must have arrived whole within this time */
  double hold_seconds;    /* how long a question for changes is held open */
} tw_serve_options;

/* any port, 256 KiB, 128 connections, 10 s, 20 s */
tw_serve_options tw_serve_defaults(void);

typedef struct tw_server tw_server;

/* Start; returns when the address is bound. TW_NO_FILE when it cannot be, TW_NO_MEMORY. */
tw_status tw_server_start(const tw_serve_model *model, const tw_serve_options *options,
                          tw_server **out, tw_fault *fault);
uint16_t tw_server_port(const tw_server *server);
/* the secret of this run, 32 hexadecimal digits */
const char *tw_server_token(const tw_server *server);
/* "http://127.0.0.1:PORT/#TOKEN" */
const char *tw_server_address(const tw_server *server);
/* stop work, answer what waits, close all connections, join the threads; takes NULL */
void tw_server_stop(tw_server *server);

#endif
