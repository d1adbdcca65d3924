/* reply.c: what goes back: JSON, refusals, the page's files, each with the guarding headers. */
#include "parts.h"

#include "tripwright/report.h"

#include <stdlib.h>
#include <string.h>

/* nothing but our own files, nothing inline, no frame around the page */
static const char policy[] =
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

static void add_guards(struct MHD_Response *response)
{
  static const char *const headers[][2] = {
      {"Content-Security-Policy", policy},
      {"X-Content-Type-Options", "nosniff"},
      {"Referrer-Policy", "no-referrer"},
      {"Cross-Origin-Opener-Policy", "same-origin"},
      {"Cross-Origin-Resource-Policy", "same-origin"},
  };
  for (size_t i = 0; i < sizeof headers / sizeof headers[0]; i++) {
    MHD_add_response_header(response, headers[i][0], headers[i][1]);
  }
}

static enum MHD_Result send_off(struct MHD_Connection *connection, unsigned code,
                                struct MHD_Response *response)
{
  if (!response) {
    return MHD_NO;
  }
  add_guards(response);
  const enum MHD_Result result = MHD_queue_response(connection, code, response);
  MHD_destroy_response(response);
  return result;
}

enum MHD_Result tw_reply_json(struct MHD_Connection *connection, unsigned code, const char *json)
{
  struct MHD_Response *response =
      MHD_create_response_from_buffer(strlen(json), (void *)(uintptr_t)json, MHD_RESPMEM_MUST_COPY);
  if (response) {
    MHD_add_response_header(response, "Content-Type", "application/json");
    MHD_add_response_header(response, "Cache-Control", "no-store");
  }
  return send_off(connection, code, response);
}

enum MHD_Result tw_reply_refusal(struct MHD_Connection *connection, unsigned code, const char *why)
{
  tw_fault fault = {0};
  tw_fail(&fault, TW_BAD_INPUT, "", "", "%s", why);
  char *json = tw_reply_fault(TW_BAD_INPUT, &fault, NULL);
  const enum MHD_Result result = tw_reply_json(connection, code, json ? json : "{}");
  tw_free(json);
  return result;
}

static bool takes_gzip(struct MHD_Connection *connection)
{
  const char *text = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, "Accept-Encoding");
  const char *gzip = text ? strstr(text, "gzip") : NULL;
  return gzip && strncmp(gzip + 4, ";q=0", 4) != 0;
}

static struct MHD_Response *plain_asset(const tw_asset *asset)
{
  char *text = NULL;
  if (tw_asset_text(asset, &text, NULL) != TW_OK) {
    return NULL;
  }
  struct MHD_Response *response =
      MHD_create_response_from_buffer(asset->size, text, MHD_RESPMEM_MUST_COPY);
  tw_free(text);
  return response;
}

enum MHD_Result tw_reply_asset(struct MHD_Connection *connection, const char *path)
{
  const tw_asset *asset = tw_asset_find(path[1] ? path + 1 : "page.html");
  if (!asset) {
    return tw_reply_refusal(connection, MHD_HTTP_NOT_FOUND, "there is nothing here");
  }
  const char *known = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, "If-None-Match");
  const bool same = known && strcmp(known, asset->tag) == 0;
  const bool packed = takes_gzip(connection);
  struct MHD_Response *response =
      same     ? MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT)
      : packed ? MHD_create_response_from_buffer(asset->gzip_size, (void *)(uintptr_t)asset->gzip,
                                                 MHD_RESPMEM_PERSISTENT)
               : plain_asset(asset);
  if (response) {
    MHD_add_response_header(response, "Content-Type", asset->type);
    MHD_add_response_header(response, "Cache-Control", "no-cache");
    MHD_add_response_header(response, "Vary", "Accept-Encoding");
    MHD_add_response_header(response, "ETag", asset->tag);
    if (packed && !same) {
      MHD_add_response_header(response, "Content-Encoding", "gzip");
    }
  }
  return send_off(connection, same ? MHD_HTTP_NOT_MODIFIED : MHD_HTTP_OK, response);
}

char *tw_reply_fault(tw_status status, const tw_fault *fault, json_t *document)
{
  json_t *all = document ? document : json_object();
  json_t *error =
      json_pack("{s:s, s:s, s:s, s:s}", "status", tw_status_text(status), "field", fault->field,
                "text", fault->text[0] ? fault->text : tw_status_text(status), "hint", fault->hint);
  if (!all || !error || json_object_set_new(all, "error", error) != 0) {
    json_decref(all);
    return NULL;
  }
  char *text = json_dumps(all, JSON_COMPACT);
  char *copy = tw_copy_text(text);
  free(text);
  json_decref(all);
  return copy;
}

unsigned tw_reply_code(tw_status status)
{
  switch (status) {
  case TW_OK:
    return MHD_HTTP_OK;
  case TW_BAD_INPUT:
  case TW_NO_ANSWER:
    return MHD_HTTP_UNPROCESSABLE_CONTENT;
  case TW_CANCELLED:
    return MHD_HTTP_SERVICE_UNAVAILABLE;
  case TW_NO_MEMORY:
  case TW_NO_FILE:
  case TW_INTERNAL:
    break;
  }
  return MHD_HTTP_INTERNAL_SERVER_ERROR;
}
