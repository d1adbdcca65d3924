/* guard.c: who may pass: the checks that need nothing but the headers. */
#include "parts.h"

#include "tripwright/report.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

tw_status tw_guard_token(char token[TW_TOKEN_SIZE], tw_fault *fault)
{
  unsigned char bytes[16];
  FILE *random = fopen("/dev/urandom", "rb");
  const bool read = random && fread(bytes, 1, sizeof bytes, random) == sizeof bytes;
  if (random) {
    fclose(random);
  }
  if (!read) {
    return tw_fail(fault, TW_NO_FILE, "", "", "the system's random source cannot be read");
  }
  for (size_t i = 0; i < sizeof bytes; i++) {
    snprintf(token + 2 * i, 3, "%02x", bytes[i]);
  }
  return TW_OK;
}

bool tw_guard_same(const char *a, const char *b)
{
  const size_t na = strlen(a), nb = strlen(b);
  unsigned difference = na != nb;
  for (size_t i = 0; i < nb; i++) {
    difference |= (unsigned)((unsigned char)a[i < na ? i : 0] ^ (unsigned char)b[i]);
  }
  return difference == 0;
}

static const char *header(struct MHD_Connection *connection, const char *name)
{
  return MHD_lookup_connection_value(connection, MHD_HEADER_KIND, name);
}

static enum MHD_Result count_one(void *context, enum MHD_ValueKind kind, const char *key,
                                 const char *value)
{
  (void)kind;
  (void)value;
  int *hosts = context;
  *hosts += strcasecmp(key, "Host") == 0;
  return MHD_YES;
}

/* one Host header, naming the address we listen on: a page elsewhere whose name was made to point
 * here sends its own name */
static bool right_host(const struct tw_server *server, struct MHD_Connection *connection)
{
  int hosts = 0;
  MHD_get_connection_values(connection, MHD_HEADER_KIND, count_one, &hosts);
  const char *host = header(connection, "Host");
  return hosts == 1 && host &&
         (strcmp(host, server->host[0]) == 0 || strcmp(host, server->host[1]) == 0);
}

static bool right_origin(const struct tw_server *server, const char *origin)
{
  return strcmp(origin, server->origin[0]) == 0 || strcmp(origin, server->origin[1]) == 0;
}

static bool is_json(const char *type)
{
  static const char wanted[] = "application/json";
  const size_t n = sizeof wanted - 1;
  return type && strncasecmp(type, wanted, n) == 0 &&
         (type[n] == '\0' || type[n] == ';' || type[n] == ' ');
}

typedef struct tw_path {
  const char *method, *path;
  tw_route route;
} tw_path;

static const tw_path paths[] = {
    {"GET", "/api/design", TW_ROUTE_DESIGN}, {"GET", "/api/changes", TW_ROUTE_CHANGES},
    {"POST", "/api/view", TW_ROUTE_VIEW},    {"POST", "/api/save", TW_ROUTE_SAVE},
    {"POST", "/api/job", TW_ROUTE_JOB_NEW},  {"GET", "/api/job", TW_ROUTE_JOB_ASK},
    {"DELETE", "/api/job", TW_ROUTE_JOB_END}};

/* 0 and the route, 404 for a path that is none of ours, 405 for a method it does not take */
static unsigned find_route(const char *method, const char *path, tw_route *route)
{
  unsigned code = MHD_HTTP_NOT_FOUND;
  for (size_t i = 0; i < sizeof paths / sizeof paths[0]; i++) {
    if (strcmp(paths[i].path, path) == 0) {
      code = MHD_HTTP_METHOD_NOT_ALLOWED;
      if (strcmp(paths[i].method, method) == 0) {
        *route = paths[i].route;
        return 0;
      }
    }
  }
  if (code == MHD_HTTP_NOT_FOUND && path[0] == '/' &&
      (path[1] == '\0' || (strcmp(path + 1, "page.html") != 0 && tw_asset_find(path + 1)))) {
    const bool reads = strcmp(method, "GET") == 0 || strcmp(method, "HEAD") == 0;
    *route = TW_ROUTE_ASSET;
    return reads ? 0 : MHD_HTTP_METHOD_NOT_ALLOWED;
  }
  return code;
}

static unsigned check_length(const struct tw_server *server, struct MHD_Connection *connection)
{
  const char *text = header(connection, "Content-Length");
  if (!text) {
    return 0;
  }
  char *end = NULL;
  const unsigned long long length = strtoull(text, &end, 10);
  if (end == text || *end || text[0] == '-') {
    return MHD_HTTP_BAD_REQUEST;
  }
  return length > server->options.body_limit ? MHD_HTTP_CONTENT_TOO_LARGE : 0;
}

/* what is asked of everything under /api/ */
static unsigned check_call(const struct tw_server *server, struct MHD_Connection *connection,
                           const char *method, const char **why)
{
  const char *origin = header(connection, "Origin");
  const char *site = header(connection, "Sec-Fetch-Site");
  const char *token = header(connection, "X-Tripwright-Token");
  const bool reads = strcmp(method, "GET") == 0;
  if (origin ? !right_origin(server, origin) : !reads) {
    *why = "this request does not come from the page of this server";
    return MHD_HTTP_FORBIDDEN;
  }
  if (site && strcmp(site, "same-origin") != 0 && strcmp(site, "none") != 0) {
    *why = "this request comes from another site";
    return MHD_HTTP_FORBIDDEN;
  }
  if (!token || !tw_guard_same(token, server->token)) {
    *why = "this is not the token of this run; open the address that the server printed";
    return MHD_HTTP_UNAUTHORIZED;
  }
  if (!reads && !is_json(header(connection, "Content-Type"))) {
    *why = "the content must be JSON";
    return MHD_HTTP_UNSUPPORTED_MEDIA_TYPE;
  }
  const unsigned code = check_length(server, connection);
  if (code) {
    *why = "the content is larger than a request may be, or its length is no number";
  }
  return code;
}

unsigned tw_guard_check(struct tw_server *server, struct MHD_Connection *connection,
                        const char *method, const char *path, tw_route *route, const char **why)
{
  if (!right_host(server, connection)) {
    *why = "the Host header does not name this server";
    return MHD_HTTP_MISDIRECTED_REQUEST;
  }
  const unsigned code = find_route(method, path, route);
  if (code) {
    *why = code == MHD_HTTP_NOT_FOUND ? "there is nothing here" : "this cannot be done here";
    return code;
  }
  return *route == TW_ROUTE_ASSET ? 0 : check_call(server, connection, method, why);
}
