/* parts.h: the parts of the server that know of each other.
 *
 * A request lives as a tw_exchange from its first header to its last byte. The socket thread
 * guards and reads it, puts it into the queue and suspends the connection; a work thread fills in
 * the reply and wakes it. Long work is a tw_job that is asked for again by its number. `lock`
 * protects everything below it.
 */
#ifndef TW_SERVE_PARTS_H
#define TW_SERVE_PARTS_H

#include "tripwright/serve.h"

#include <microhttpd.h>
#include <pthread.h>

enum {
  TW_JOBS = 16,           /* kept at once, running and done */
  TW_JOB_WHAT = 96,       /* words about what a job is doing */
  TW_TOKEN_SIZE = 33,     /* 32 hexadecimal digits and the end */
  TW_DISCARD_FACTOR = 32, /* an oversize body is read and dropped up to this many limits */
  TW_WATCH_MS = 200,
  TW_THREADS = 4 /* beside that of the sockets */
};

typedef enum tw_stage { TW_READING, TW_WAITING, TW_READY } tw_stage;

typedef enum tw_route {
  TW_ROUTE_NONE,
  TW_ROUTE_ASSET,
  TW_ROUTE_DESIGN,
  TW_ROUTE_CHANGES,
  TW_ROUTE_VIEW,
  TW_ROUTE_SAVE,
  TW_ROUTE_JOB_NEW,
  TW_ROUTE_JOB_ASK,
  TW_ROUTE_JOB_END
} tw_route;

typedef struct tw_exchange tw_exchange;
struct tw_exchange {
  struct tw_server *server;
  struct MHD_Connection *connection;
  tw_route route;
  tw_stage stage;
  char *body;
  size_t length;
  size_t dropped; /* bytes past the limit */
  unsigned code;  /* of the reply */
  char *reply;    /* JSON text */
  double deadline;
  tw_exchange *next; /* in the work queue or among those that wait for changes */
};

/* one connection, so that a slow one can be shut from outside */
typedef struct tw_link tw_link;
struct tw_link {
  int socket;
  double since; /* start of the connection, of the request, or of its reply */
  bool held;    /* waits for us, not we for it */
  tw_link *previous, *next;
};

typedef enum tw_job_state { TW_JOB_FREE, TW_JOB_QUEUED, TW_JOB_RUNS, TW_JOB_DONE } tw_job_state;

typedef struct tw_job {
  unsigned number;
  tw_job_state state;
  bool cancel;
  double done;
  char what[TW_JOB_WHAT];
  json_t *request;
  bool takes_long;
  unsigned parts; /* documents of what is known so far that were given */
  char *partial;  /* the last of them, JSON text */
  unsigned code;
  char *reply;
} tw_job;

struct tw_server {
  tw_serve_model model;
  tw_serve_options options;
  int socket; /* the one we listen on */
  struct MHD_Daemon *daemon;
  uint16_t port;
  char token[TW_TOKEN_SIZE];
  char address[96];
  char host[2][32];   /* the two names we answer to, with the port */
  char origin[2][48]; /* and the origins that go with them */

  pthread_t thread[TW_THREADS]; /* quick work, two for jobs, watching */
  int threads;                  /* how many of them run */
  pthread_mutex_t lock;
  pthread_cond_t work; /* something is queued, or the server stops */
  bool stopping;
  tw_exchange *first, *last; /* quick work */
  tw_exchange *waiting;      /* for changes of the file */
  tw_job jobs[TW_JOBS];
  unsigned job_number;
  tw_link *links;
  char seen[TW_FINGERPRINT]; /* of the file, as last watched */
};

/* ---- wake.c --------------------------------------------------------------------------------- */

double tw_serve_now(void); /* seconds, monotonic */
/* with the lock held: an exchange has its reply */
void tw_wake(tw_exchange *exchange, unsigned code, char *reply);

/* ---- guard.c -------------------------------------------------------------------------------- */

/* the secret of a run from the system's random source */
tw_status tw_guard_token(char token[TW_TOKEN_SIZE], tw_fault *fault);
/* the same length of work whether they differ early or late */
bool tw_guard_same(const char *a, const char *b);
/* Which route is this, and may it pass? 0, or the status code of the refusal with `why` (a
 * constant) for the reply. */
unsigned tw_guard_check(struct tw_server *server, struct MHD_Connection *connection,
                        const char *method, const char *path, tw_route *route, const char **why);

/* ---- reply.c -------------------------------------------------------------------------------- */

enum MHD_Result tw_reply_json(struct MHD_Connection *connection, unsigned code, const char *json);
enum MHD_Result tw_reply_refusal(struct MHD_Connection *connection, unsigned code, const char *why);
enum MHD_Result tw_reply_asset(struct MHD_Connection *connection, const char *path);
/* {"error": {...}} beside what `document` says; steals document; NULL without memory */
char *tw_reply_fault(tw_status status, const tw_fault *fault, json_t *document);
/* the status code for a status of the model */
unsigned tw_reply_code(tw_status status);

/* ---- work.c --------------------------------------------------------------------------------- */

/* A request has arrived whole. True: its reply stands in it. False: it has been queued, its
 * connection is suspended, and it belongs to the work threads until they wake it. */
bool tw_work_take(tw_exchange *exchange);
void *tw_work_quick(void *server);
void *tw_work_slow(void *server);

/* ---- watch.c -------------------------------------------------------------------------------- */

void *tw_watch(void *server);
void tw_watch_connection(void *server, struct MHD_Connection *connection, void **context,
                         enum MHD_ConnectionNotificationCode code);
/* note that a connection starts something of its own, or waits for us (held) */
void tw_watch_mark(struct tw_server *server, struct MHD_Connection *connection, bool held);

#endif
