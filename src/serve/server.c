/* server.c: start and stop, and the life of a request. */
#include "parts.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

tw_serve_options tw_serve_defaults(void)
{
  return (tw_serve_options){.port = 0,
                            .body_limit = 256 * 1024,
                            .connections = 128,
                            .request_seconds = 10,
                            .hold_seconds = 20};
}

/* ---- a request ------------------------------------------------------------------------------ */

/* keep what fits, count the rest; false when even dropping it goes on too long */
static bool take_body(tw_exchange *exchange, const char *data, size_t size)
{
  const size_t limit = exchange->server->options.body_limit;
  if (exchange->dropped || exchange->length + size > limit) {
    exchange->dropped += size;
    return exchange->dropped <= limit * TW_DISCARD_FACTOR;
  }
  char *body = tw_resize(exchange->body, exchange->length + size, 1);
  if (!body) {
    return false;
  }
  memcpy(body + exchange->length, data, size);
  exchange->body = body;
  exchange->length += size;
  return true;
}

static enum MHD_Result first_call(struct tw_server *server, struct MHD_Connection *connection,
                                  const char *path, const char *method, void **context)
{
  tw_route route = TW_ROUTE_NONE;
  const char *why = "";
  tw_watch_mark(server, connection, false);
  const unsigned code = tw_guard_check(server, connection, method, path, &route, &why);
  if (code) {
    return tw_reply_refusal(connection, code, why);
  }
  tw_exchange *exchange = tw_alloc(1, sizeof *exchange);
  if (!exchange) {
    return MHD_NO;
  }
  exchange->server = server;
  exchange->connection = connection;
  exchange->route = route;
  *context = exchange;
  return MHD_YES;
}

static enum MHD_Result handle(void *self, struct MHD_Connection *connection, const char *path,
                              const char *method, const char *version, const char *data,
                              size_t *size, void **context)
{
  struct tw_server *server = self;
  tw_exchange *exchange = *context;
  (void)version;
  if (!exchange) {
    return first_call(server, connection, path, method, context);
  }
  if (*size) {
    const bool taken = take_body(exchange, data, *size);
    *size = 0;
    return taken ? MHD_YES : MHD_NO;
  }
  if (exchange->route == TW_ROUTE_ASSET) {
    return tw_reply_asset(connection, path);
  }
  if (exchange->dropped) {
    return tw_reply_refusal(connection, MHD_HTTP_CONTENT_TOO_LARGE,
                            "the content is larger than a request may be");
  }
  if (exchange->stage == TW_READING) {
    tw_watch_mark(server, connection, true);
    if (!tw_work_take(exchange)) {
      return MHD_YES;
    }
  }
  tw_watch_mark(server, connection, false);
  return tw_reply_json(connection, exchange->code, exchange->reply ? exchange->reply : "{}");
}

static void completed(void *self, struct MHD_Connection *connection, void **context,
                      enum MHD_RequestTerminationCode code)
{
  tw_exchange *exchange = *context;
  (void)code;
  tw_watch_mark(self, connection, false);
  if (exchange) {
    tw_free(exchange->body);
    tw_free(exchange->reply);
    tw_free(exchange);
    *context = NULL;
  }
}

/* our paths hold no escapes: one that does is none of ours, so nothing is ever unescaped */
static size_t keep_escapes(void *self, struct MHD_Connection *connection, char *text)
{
  (void)self;
  (void)connection;
  return strlen(text);
}

/* ---- start and stop ------------------------------------------------------------------------- */

/* our own socket, so that the port is known before the first request can come */
static tw_status bind_address(struct tw_server *server, tw_fault *fault)
{
  struct sockaddr_in address = {.sin_family = AF_INET,
                                .sin_port = htons(server->options.port),
                                .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
  socklen_t size = sizeof address;
  const int yes = 1;
  server->socket = socket(AF_INET, SOCK_STREAM, 0);
  if (server->socket < 0 ||
      setsockopt(server->socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes) != 0 ||
      bind(server->socket, (struct sockaddr *)&address, size) != 0 ||
      listen(server->socket, 511) != 0 ||
      getsockname(server->socket, (struct sockaddr *)&address, &size) != 0) {
    return tw_fail(fault, TW_NO_FILE, "", "choose another with --port, or leave it out",
                   "port %u of the loopback address cannot be used: %s",
                   (unsigned)server->options.port, strerror(errno));
  }
  server->port = ntohs(address.sin_port);
  return TW_OK;
}

static tw_status start_daemon(struct tw_server *server, tw_fault *fault)
{
  /* poll, not epoll: with all connections taken, the epoll loop of libmicrohttpd 0.9.75 now and
   * then left requests that had arrived asleep until their time was up */
  server->daemon = MHD_start_daemon(
      MHD_USE_POLL_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME, server->port, NULL, NULL, handle,
      server, MHD_OPTION_LISTEN_SOCKET, server->socket, MHD_OPTION_CONNECTION_LIMIT,
      server->options.connections, MHD_OPTION_CONNECTION_TIMEOUT,
      (unsigned)(server->options.request_seconds + 1), MHD_OPTION_CONNECTION_MEMORY_LIMIT,
      (size_t)32768, MHD_OPTION_NOTIFY_COMPLETED, completed, server, MHD_OPTION_NOTIFY_CONNECTION,
      tw_watch_connection, server, MHD_OPTION_UNESCAPE_CALLBACK, keep_escapes, NULL,
      MHD_OPTION_END);
  if (!server->daemon) {
    return tw_fail(fault, TW_NO_FILE, "", "", "the server cannot be started");
  }
  server->socket = -1; /* the daemon's from now on */
  return TW_OK;
}

static void name_address(struct tw_server *server)
{
  static const char *const names[2] = {"127.0.0.1", "localhost"};
  for (int i = 0; i < 2; i++) {
    snprintf(server->host[i], sizeof server->host[i], "%s:%u", names[i], (unsigned)server->port);
    snprintf(server->origin[i], sizeof server->origin[i], "http://%s", server->host[i]);
  }
  snprintf(server->address, sizeof server->address, "http://%s/#%s", server->host[0],
           server->token);
}

static tw_status start_threads(struct tw_server *server, tw_fault *fault)
{
  void *(*const runs[TW_THREADS])(void *) = {tw_work_quick, tw_work_slow, tw_work_slow, tw_watch};
  while (server->threads < TW_THREADS) {
    if (pthread_create(&server->thread[server->threads], NULL, runs[server->threads], server) !=
        0) {
      return tw_fail(fault, TW_NO_MEMORY, "", "", "a thread could not be started");
    }
    server->threads++;
  }
  return TW_OK;
}

tw_status tw_server_start(const tw_serve_model *model, const tw_serve_options *options,
                          tw_server **out, tw_fault *fault)
{
  tw_server *server = tw_alloc(1, sizeof *server);
  if (!server) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the server");
  }
  server->socket = -1;
  server->model = *model;
  server->options = options ? *options : tw_serve_defaults();
  pthread_mutex_init(&server->lock, NULL);
  pthread_cond_init(&server->work, NULL);
  model->fingerprint(model->self, server->seen);
  tw_status status = tw_guard_token(server->token, fault);
  if (status == TW_OK) {
    status = bind_address(server, fault);
  }
  if (status == TW_OK) {
    name_address(server);
    status = start_daemon(server, fault);
  }
  if (status == TW_OK) {
    status = start_threads(server, fault);
  }
  if (status != TW_OK) {
    tw_server_stop(server);
    return status;
  }
  *out = server;
  return TW_OK;
}

uint16_t tw_server_port(const tw_server *server)
{
  return server->port;
}

const char *tw_server_token(const tw_server *server)
{
  return server->token;
}

const char *tw_server_address(const tw_server *server)
{
  return server->address;
}

void tw_server_stop(tw_server *server)
{
  if (!server) {
    return;
  }
  pthread_mutex_lock(&server->lock);
  server->stopping = true;
  pthread_cond_broadcast(&server->work);
  pthread_mutex_unlock(&server->lock);
  for (int i = 0; i < server->threads; i++) {
    pthread_join(server->thread[i], NULL);
  }
  /* from here on every request is answered by the socket thread alone: nothing is suspended */
  if (server->daemon) {
    MHD_stop_daemon(server->daemon);
  }
  if (server->socket >= 0) {
    close(server->socket);
  }
  for (int i = 0; i < TW_JOBS; i++) {
    json_decref(server->jobs[i].request);
    tw_free(server->jobs[i].partial);
    tw_free(server->jobs[i].reply);
  }
  pthread_cond_destroy(&server->work);
  pthread_mutex_destroy(&server->lock);
  tw_free(server);
}
