/* work.c: the work threads: one for what the page waits for, two for long jobs. */
#include "parts.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- JSON in and out ------------------------------------------------------------------------ */

static char *dump(json_t *document)
{
  char *text = document ? json_dumps(document, JSON_COMPACT | JSON_REAL_PRECISION(17)) : NULL;
  char *copy = tw_copy_text(text);
  free(text);
  json_decref(document);
  return copy;
}

static char *failed(tw_status status, const char *text, unsigned *code)
{
  tw_fault fault = {0};
  tw_fail(&fault, status, "", "", "%s", text);
  *code = tw_reply_code(status);
  return tw_reply_fault(status, &fault, NULL);
}

/* the body as an object; NULL and a fault when it is not one */
static json_t *read_body(const tw_exchange *exchange, tw_fault *fault)
{
  json_error_t error;
  json_t *request = json_loadb(exchange->body ? exchange->body : "", exchange->length,
                               JSON_REJECT_DUPLICATES, &error);
  if (!request) {
    tw_fail(fault, TW_BAD_INPUT, "", "", "the request is not JSON: %s", error.text);
  } else if (!json_is_object(request)) {
    tw_fail(fault, TW_BAD_INPUT, "", "", "the request is not an object");
    json_decref(request);
    request = NULL;
  }
  return request;
}

/* ---- progress ------------------------------------------------------------------------------- */

static bool stop_tick(void *self, double done, const char *what)
{
  struct tw_server *server = self;
  (void)done;
  (void)what;
  pthread_mutex_lock(&server->lock);
  const bool go = !server->stopping;
  pthread_mutex_unlock(&server->lock);
  return go;
}

typedef struct job_watch {
  struct tw_server *server;
  tw_job *job;
} job_watch;

static bool job_tick(void *self, double done, const char *what)
{
  const job_watch *watch = self;
  pthread_mutex_lock(&watch->server->lock);
  watch->job->done = done;
  snprintf(watch->job->what, sizeof watch->job->what, "%s", what ? what : "");
  const bool go = !watch->server->stopping && !watch->job->cancel;
  pthread_mutex_unlock(&watch->server->lock);
  return go;
}

/* what is known so far, for the next who asks */
static void job_part(void *self, json_t *document)
{
  const job_watch *watch = self;
  char *text = dump(document);
  if (text) {
    pthread_mutex_lock(&watch->server->lock);
    char *before = watch->job->partial;
    watch->job->partial = text;
    watch->job->parts++;
    pthread_mutex_unlock(&watch->server->lock);
    tw_free(before);
  }
}

/* ---- quick work ----------------------------------------------------------------------------- */

static char *do_model(struct tw_server *server, tw_exchange *exchange, unsigned *code)
{
  const tw_serve_model *model = &server->model;
  const tw_progress progress = {stop_tick, server};
  tw_fault fault = {0};
  json_t *document = NULL;
  tw_status status = TW_OK;
  bool conflict = false;
  if (exchange->route == TW_ROUTE_DESIGN) {
    status = model->open(model->self, &document, &fault);
  } else {
    json_t *request = read_body(exchange, &fault);
    if (!request) {
      *code = MHD_HTTP_BAD_REQUEST;
      return tw_reply_fault(TW_BAD_INPUT, &fault, NULL);
    }
    status = exchange->route == TW_ROUTE_SAVE
                 ? model->save(model->self, request, &conflict, &document, &fault)
                 : model->view(model->self, request, &progress, NULL, &document, &fault);
    json_decref(request);
  }
  *code = conflict ? MHD_HTTP_CONFLICT : tw_reply_code(status);
  return status == TW_OK ? dump(document) : tw_reply_fault(status, &fault, document);
}

void *tw_work_quick(void *self)
{
  struct tw_server *server = self;
  pthread_mutex_lock(&server->lock);
  for (;;) {
    while (!server->first && !server->stopping) {
      pthread_cond_wait(&server->work, &server->lock);
    }
    tw_exchange *exchange = server->first;
    if (!exchange) {
      break; /* stopping, and nothing left to answer */
    }
    server->first = exchange->next;
    server->last = server->first ? server->last : NULL;
    const bool stopping = server->stopping;
    pthread_mutex_unlock(&server->lock);
    unsigned code;
    char *reply = stopping ? failed(TW_CANCELLED, "the server stops", &code)
                           : do_model(server, exchange, &code);
    pthread_mutex_lock(&server->lock);
    tw_wake(exchange, code, reply);
  }
  pthread_mutex_unlock(&server->lock);
  return NULL;
}

/* ---- long jobs ------------------------------------------------------------------------------ */

/* the oldest that may begin: of those that take long, one runs at a time */
static tw_job *queued_job(struct tw_server *server)
{
  tw_job *oldest = NULL;
  bool long_one_runs = false;
  for (int i = 0; i < TW_JOBS; i++) {
    long_one_runs =
        long_one_runs || (server->jobs[i].state == TW_JOB_RUNS && server->jobs[i].takes_long);
  }
  for (int i = 0; i < TW_JOBS; i++) {
    tw_job *job = &server->jobs[i];
    if (job->state == TW_JOB_QUEUED && !(job->takes_long && long_one_runs) &&
        (!oldest || job->number < oldest->number)) {
      oldest = job;
    }
  }
  return oldest;
}

static void run_job(struct tw_server *server, tw_job *job)
{
  job_watch watch = {server, job};
  const tw_progress progress = {job_tick, &watch};
  const tw_page_partial partial = {job_part, &watch};
  tw_fault fault = {0};
  json_t *document = NULL;
  const tw_status status =
      server->model.view(server->model.self, job->request, &progress, &partial, &document, &fault);
  char *reply = status == TW_OK ? dump(document) : tw_reply_fault(status, &fault, document);
  pthread_mutex_lock(&server->lock);
  job->code = reply ? tw_reply_code(status) : MHD_HTTP_INTERNAL_SERVER_ERROR;
  job->reply = reply;
  job->state = TW_JOB_DONE;
  pthread_mutex_unlock(&server->lock);
}

void *tw_work_slow(void *self)
{
  struct tw_server *server = self;
  pthread_mutex_lock(&server->lock);
  while (!server->stopping) {
    tw_job *job = queued_job(server);
    if (job) {
      job->state = TW_JOB_RUNS;
      pthread_mutex_unlock(&server->lock);
      run_job(server, job);
      pthread_mutex_lock(&server->lock);
    } else {
      pthread_cond_wait(&server->work, &server->lock);
    }
  }
  pthread_mutex_unlock(&server->lock);
  return NULL;
}

static void clear_job(tw_job *job)
{
  json_decref(job->request);
  tw_free(job->partial);
  tw_free(job->reply);
  *job = (tw_job){0};
}

/* a free place, or that of the oldest job that is done; NULL when all are busy */
static tw_job *place_for_job(struct tw_server *server)
{
  tw_job *place = NULL;
  for (int i = 0; i < TW_JOBS; i++) {
    tw_job *job = &server->jobs[i];
    if (job->state == TW_JOB_FREE) {
      return job;
    }
    if (job->state == TW_JOB_DONE && (!place || job->number < place->number)) {
      place = job;
    }
  }
  return place;
}

/* the answers below are made with the lock held, by the socket thread: they compute nothing */
static char *new_job(struct tw_server *server, tw_exchange *exchange, unsigned *code)
{
  tw_fault fault = {0};
  json_t *request = read_body(exchange, &fault);
  if (!request) {
    *code = MHD_HTTP_BAD_REQUEST;
    return tw_reply_fault(TW_BAD_INPUT, &fault, NULL);
  }
  tw_job *job = place_for_job(server);
  if (!job) {
    json_decref(request);
    *code = MHD_HTTP_TOO_MANY_REQUESTS;
    tw_fail(&fault, TW_BAD_INPUT, "", "", "%d jobs are already waiting", TW_JOBS);
    return tw_reply_fault(TW_BAD_INPUT, &fault, NULL);
  }
  clear_job(job);
  job->request = request;
  job->takes_long =
      server->model.takes_long && server->model.takes_long(server->model.self, request);
  job->state = TW_JOB_QUEUED;
  job->number = ++server->job_number;
  pthread_cond_broadcast(&server->work);
  *code = MHD_HTTP_ACCEPTED;
  return dump(json_pack("{s:i}", "job", (int)job->number));
}

static tw_job *asked_job(struct tw_server *server, struct MHD_Connection *connection)
{
  const char *text = MHD_lookup_connection_value(connection, MHD_GET_ARGUMENT_KIND, "number");
  char *end = NULL;
  const unsigned long number = text ? strtoul(text, &end, 10) : 0;
  for (int i = 0; text && *end == '\0' && number > 0 && i < TW_JOBS; i++) {
    if (server->jobs[i].state != TW_JOB_FREE && server->jobs[i].number == number) {
      return &server->jobs[i];
    }
  }
  return NULL;
}

/* how far it is, and what is known so far if that is newer than what the client has seen */
static char *progress_of(const tw_job *job, struct MHD_Connection *connection)
{
  const char *text = MHD_lookup_connection_value(connection, MHD_GET_ARGUMENT_KIND, "part");
  char *plain = dump(json_pack("{s:i, s:b, s:f, s:s, s:i}", "job", (int)job->number, "runs",
                               job->state == TW_JOB_RUNS, "done", job->done, "what", job->what,
                               "part", (int)job->parts));
  if (!plain || !job->partial || (text && strtoul(text, NULL, 10) == job->parts)) {
    return plain;
  }
  const size_t size = strlen(plain) + strlen(job->partial) + 16;
  char *whole = tw_alloc(size, 1);
  if (whole) {
    snprintf(whole, size, "%.*s,\"partial\":%s}", (int)(strlen(plain) - 1), plain, job->partial);
  }
  tw_free(plain);
  return whole;
}

static char *about_job(struct tw_server *server, tw_exchange *exchange, unsigned *code)
{
  tw_job *job = asked_job(server, exchange->connection);
  if (!job) {
    char *reply = failed(TW_BAD_INPUT, "there is no such job", code);
    *code = MHD_HTTP_NOT_FOUND;
    return reply;
  }
  if (exchange->route == TW_ROUTE_JOB_END) {
    job->cancel = true;
    if (job->state == TW_JOB_QUEUED || job->state == TW_JOB_DONE) {
      clear_job(job);
    }
    *code = MHD_HTTP_OK;
    return dump(json_pack("{s:b}", "cancelled", 1));
  }
  if (job->state == TW_JOB_DONE) {
    *code = job->code;
    return tw_copy_text(job->reply);
  }
  *code = MHD_HTTP_ACCEPTED;
  return progress_of(job, exchange->connection);
}

/* ---- changes of the file -------------------------------------------------------------------- */

static void wait_for_change(struct tw_server *server, tw_exchange *exchange)
{
  exchange->deadline = tw_serve_now() + server->options.hold_seconds;
  exchange->next = server->waiting;
  server->waiting = exchange;
}

static bool already_changed(const struct tw_server *server, const tw_exchange *exchange)
{
  const char *seen =
      MHD_lookup_connection_value(exchange->connection, MHD_GET_ARGUMENT_KIND, "seen");
  return !seen || strcmp(seen, server->seen) != 0;
}

/* ---- the door ------------------------------------------------------------------------------- */

/* what can be answered at once, with the lock held; false: it has been queued */
static bool answer_now(struct tw_server *server, tw_exchange *exchange)
{
  unsigned code = MHD_HTTP_OK;
  char *reply = NULL;
  if (server->stopping) {
    reply = failed(TW_CANCELLED, "the server stops", &code);
  } else if (exchange->route == TW_ROUTE_JOB_NEW) {
    reply = new_job(server, exchange, &code);
  } else if (exchange->route == TW_ROUTE_JOB_ASK || exchange->route == TW_ROUTE_JOB_END) {
    reply = about_job(server, exchange, &code);
  } else if (exchange->route == TW_ROUTE_CHANGES && already_changed(server, exchange)) {
    reply = dump(json_pack("{s:s}", "fingerprint", server->seen));
  } else {
    return false;
  }
  exchange->code = reply ? code : MHD_HTTP_INTERNAL_SERVER_ERROR;
  exchange->reply = reply;
  exchange->stage = TW_READY;
  return true;
}

bool tw_work_take(tw_exchange *exchange)
{
  struct tw_server *server = exchange->server;
  pthread_mutex_lock(&server->lock);
  const bool answered = answer_now(server, exchange);
  if (!answered) {
    exchange->stage = TW_WAITING;
    MHD_suspend_connection(exchange->connection);
    if (exchange->route == TW_ROUTE_CHANGES) {
      wait_for_change(server, exchange);
    } else {
      exchange->next = NULL;
      if (server->last) {
        server->last->next = exchange;
      } else {
        server->first = exchange;
      }
      server->last = exchange;
      pthread_cond_broadcast(&server->work);
    }
  }
  pthread_mutex_unlock(&server->lock);
  return answered;
}
