/* The server's guards and its life, with a model of a few lines: who may pass, what is too much,
 * who is too slow, and that nothing is left behind. */
#include "http.h"
#include "near.h"

#include "tripwright/serve.h"

#include <pthread.h>
#include <stdatomic.h>
#include <time.h>

static char print_of_file[TW_FINGERPRINT] = "00000000000000aa";
static atomic_int cancelled;

static tw_status open_model(void *self, json_t **out, tw_fault *fault)
{
  (void)self;
  (void)fault;
  *out = json_pack("{s:s}", "name", "probe");
  return TW_OK;
}

static atomic_int studies_at_once, studies_most;

/* a study: tells what it knows at every step, and on a stop leaves what it had */
static tw_status count_study(const tw_progress *progress, const tw_page_partial *partial,
                             json_t **out, tw_fault *fault)
{
  const int now = ++studies_at_once;
  studies_most = now > studies_most ? now : studies_most;
  tw_status status = TW_OK;
  int i = 0;
  for (; i < 1000 && status == TW_OK; i++) {
    const struct timespec pause = {.tv_nsec = 10000000};
    nanosleep(&pause, NULL);
    partial->take(partial->self, json_pack("{s:i}", "count", i));
    if (!tw_progress_tick(progress, i / 1000.0, "counting")) {
      status = tw_fail(fault, TW_CANCELLED, "", "", "stopped");
    }
  }
  studies_at_once--;
  *out = json_pack("{s:i}", "count", i);
  return status;
}

static bool takes_long(void *self, const json_t *request)
{
  (void)self;
  const char *name = json_string_value(json_object_get(request, "view"));
  return name && strcmp(name, "study") == 0;
}

static tw_status view_model(void *self, const json_t *request, const tw_progress *progress,
                            const tw_page_partial *partial, json_t **out, tw_fault *fault)
{
  (void)self;
  const char *name = json_string_value(json_object_get(request, "view"));
  if (!name) {
    return tw_fail(fault, TW_BAD_INPUT, "view", "name one", "no view is named");
  }
  if (strcmp(name, "study") == 0 && partial) {
    return count_study(progress, partial, out, fault);
  }
  if (strcmp(name, "still") == 0 && partial) {
    partial->take(partial->self, json_pack("{s:i}", "count", 7)); /* and nothing new after it */
  }
  if (strcmp(name, "long") == 0 || strcmp(name, "still") == 0) {
    for (int i = 0; i < 1000; i++) {
      const struct timespec pause = {.tv_nsec = 10000000};
      if (!tw_progress_tick(progress, i / 1000.0, "counting")) {
        cancelled++;
        return tw_fail(fault, TW_CANCELLED, "", "", "stopped");
      }
      nanosleep(&pause, NULL);
    }
  }
  *out = json_pack("{s:s}", "view", name);
  return TW_OK;
}

static tw_status save_model(void *self, const json_t *request, bool *conflict, json_t **out,
                            tw_fault *fault)
{
  (void)self;
  (void)fault;
  *conflict = json_is_true(json_object_get(request, "old"));
  *out = json_object();
  return TW_OK;
}

static void print_model(void *self, char out[TW_FINGERPRINT])
{
  (void)self;
  memcpy(out, print_of_file, TW_FINGERPRINT);
}

static const tw_serve_model model = {NULL,       open_model,  view_model,
                                     save_model, print_model, takes_long};

static tw_server *start_with(double request_seconds)
{
  tw_serve_options options = tw_serve_defaults();
  tw_server *server = NULL;
  tw_fault fault = {0};
  options.body_limit = 4096;
  options.request_seconds = request_seconds;
  options.hold_seconds = 1;
  assert_int_equal(tw_server_start(&model, &options, &server, &fault), TW_OK);
  return server;
}

static tw_server *start(void)
{
  return start_with(1.0);
}

/* the usual limit, for a test that keeps a slow machine busy for more than a second */
static int setup_patient(void **state)
{
  *state = start_with(tw_serve_defaults().request_seconds);
  return 0;
}

static int setup(void **state)
{
  *state = start();
  return 0;
}

static int teardown(void **state)
{
  tw_server_stop(*state);
  return 0;
}

static tw_http answer;

/* a request with the headers given; %H is our host, %T our token */
static int ask(tw_server *server, const char *line, const char *headers, const char *body)
{
  static char text[300000];
  size_t n = (size_t)snprintf(text, sizeof text, "%s HTTP/1.1\r\nConnection: close\r\n", line);
  for (const char *h = headers; *h; h++) {
    if (h[0] == '%' && h[1] == 'H') {
      n += (size_t)snprintf(text + n, sizeof text - n, "127.0.0.1:%u",
                            (unsigned)tw_server_port(server));
      h++;
    } else if (h[0] == '%' && h[1] == 'T') {
      n += (size_t)snprintf(text + n, sizeof text - n, "%s", tw_server_token(server));
      h++;
    } else {
      text[n++] = *h;
    }
  }
  if (body) {
    n += (size_t)snprintf(text + n, sizeof text - n, "Content-Length: %zu\r\n", strlen(body));
  }
  snprintf(text + n, sizeof text - n, "\r\n%s", body ? body : "");
  return tw_http_ask(tw_server_port(server), text, &answer);
}

#define GOOD_GET  "Host: %H\r\nX-Tripwright-Token: %T\r\n"
#define GOOD_POST GOOD_GET "Origin: http://%H\r\nContent-Type: application/json\r\n"

static void what_is_right_passes(void **state)
{
  assert_int_equal(ask(*state, "GET /", "Host: %H\r\n", NULL), 200);
  assert_non_null(strstr(answer.text, "Content-Security-Policy: default-src 'none'"));
  assert_non_null(strstr(answer.text, "nosniff"));
  assert_int_equal(ask(*state, "HEAD /page.js", "Host: %H\r\n", NULL), 200);
  assert_int_equal(ask(*state, "GET /page.css", "Host: %H\r\nAccept-Encoding: gzip\r\n", NULL),
                   200);
  assert_non_null(strstr(answer.text, "Content-Encoding: gzip"));
  assert_int_equal(ask(*state, "GET /api/design", GOOD_GET, NULL), 200);
  assert_non_null(strstr(answer.body, "\"probe\""));
  assert_int_equal(ask(*state, "POST /api/view", GOOD_POST, "{\"view\":\"check\"}"), 200);
  assert_non_null(strstr(answer.body, "\"check\""));
  char local[128];
  snprintf(local, sizeof local, "Host: localhost:%u\r\nX-Tripwright-Token: %%T\r\n",
           (unsigned)tw_server_port(*state));
  assert_int_equal(ask(*state, "GET /api/design", local, NULL), 200);
}

static void a_wrong_host_is_misdirected(void **state)
{
  assert_int_equal(ask(*state, "GET /", "Host: evil.example\r\n", NULL), 421);
  assert_int_equal(ask(*state, "GET /", "Host: 127.0.0.1:1\r\n", NULL), 421);
  assert_int_equal(ask(*state, "GET /", "Host: %H.evil.example\r\n", NULL), 421);
  assert_int_equal(ask(*state, "GET /", "Host: %H\r\nHost: evil.example\r\n", NULL) == 200, 0);
  assert_int_equal(ask(*state, "GET /", "", NULL) == 200, 0);
  assert_int_equal(
      ask(*state, "GET /api/design", "Host: evil.example\r\nX-Tripwright-Token: %T\r\n", NULL),
      421);
}

static void a_wrong_origin_is_forbidden(void **state)
{
  static const char body[] = "{\"view\":\"check\"}";
#define JSON GOOD_GET "Content-Type: application/json\r\n"
  assert_int_equal(ask(*state, "POST /api/view", JSON, body), 403);
  assert_int_equal(ask(*state, "POST /api/view", JSON "Origin: null\r\n", body), 403);
  assert_int_equal(ask(*state, "POST /api/view", JSON "Origin: http://evil.example\r\n", body),
                   403);
  assert_int_equal(ask(*state, "POST /api/view", JSON "Origin: https://%H\r\n", body), 403);
  assert_int_equal(ask(*state, "POST /api/view", JSON "Origin: http://%H.evil\r\n", body), 403);
  assert_int_equal(ask(*state, "GET /api/design", GOOD_GET "Origin: http://evil.example\r\n", NULL),
                   403);
  assert_int_equal(ask(*state, "GET /api/design", GOOD_GET "Sec-Fetch-Site: cross-site\r\n", NULL),
                   403);
}

static void a_wrong_token_is_unauthorized(void **state)
{
  assert_int_equal(ask(*state, "GET /api/design", "Host: %H\r\n", NULL), 401);
  assert_int_equal(ask(*state, "GET /api/design", "Host: %H\r\nX-Tripwright-Token: \r\n", NULL),
                   401);
  assert_int_equal(ask(*state, "GET /api/design", "Host: %H\r\nX-Tripwright-Token: %Tx\r\n", NULL),
                   401);
  assert_int_equal(ask(*state, "GET /api/design",
                       "Host: %H\r\nX-Tripwright-Token: 00000000000000000000000000000000\r\n",
                       NULL),
                   401);
  assert_int_equal(ask(*state, "GET /api/changes?seen=1&token=%T", "Host: %H\r\n", NULL), 401);
}

static void a_wrong_type_or_body_is_refused(void **state)
{
#define FROM_PAGE GOOD_GET "Origin: http://%H\r\n"
  assert_int_equal(ask(*state, "POST /api/view", FROM_PAGE, "{}"), 415);
  assert_int_equal(ask(*state, "POST /api/view", FROM_PAGE "Content-Type: text/plain\r\n", "{}"),
                   415);
  assert_int_equal(
      ask(*state, "POST /api/view", FROM_PAGE "Content-Type: application/jsonp\r\n", "{}"), 415);
  assert_int_equal(ask(*state, "POST /api/view", GOOD_POST, "{"), 400);
  assert_int_equal(ask(*state, "POST /api/view", GOOD_POST, "[]"), 400);
  assert_int_equal(ask(*state, "POST /api/view", GOOD_POST, "{\"a\":1,\"a\":2}"), 400);
  assert_int_equal(ask(*state, "POST /api/view", GOOD_POST, ""), 400);
  assert_int_equal(ask(*state, "POST /api/view", GOOD_POST, "{}"), 422);
  assert_non_null(strstr(answer.body, "no view is named"));
  assert_int_equal(ask(*state, "POST /api/save", GOOD_POST, "{\"old\":true}"), 409);
  assert_int_equal(ask(*state, "POST /api/save", GOOD_POST, "{}"), 200);
}

static void no_path_of_the_client_is_ever_used(void **state)
{
  static const char *const paths[] = {"/../etc/passwd",
                                      "/..%2f..%2fetc/passwd",
                                      "/%2e%2e/%2e%2e/etc/passwd",
                                      "//etc/passwd",
                                      "/page.js/..",
                                      "/page.js%00.css",
                                      "/%70age.js",
                                      "/api/../page.js",
                                      "/page.html",
                                      "/api/view/",
                                      "/API/design",
                                      "/api/design%20",
                                      "/.git/config",
                                      "/api",
                                      "/page.js;x",
                                      "/\\page.js"};
  for (size_t i = 0; i < sizeof paths / sizeof paths[0]; i++) {
    char line[128];
    snprintf(line, sizeof line, "GET %s", paths[i]);
    const int code = ask(*state, line, GOOD_GET, NULL);
    if (code != 404 && code != 400) {
      fail_msg("%s answered %d", paths[i], code);
    }
  }
  assert_int_equal(ask(*state, "PUT /api/view", GOOD_POST, "{}"), 405);
  assert_int_equal(ask(*state, "OPTIONS /api/view", GOOD_POST, NULL), 405);
  assert_int_equal(ask(*state, "POST /page.js", GOOD_POST, "{}"), 405);
}

static void too_large_is_refused_with_and_without_a_length(void **state)
{
  static char body[8192];
  memset(body, ' ', sizeof body - 1);
  assert_int_equal(ask(*state, "POST /api/view", GOOD_POST, body), 413);
  assert_int_equal(ask(*state, "POST /api/view", GOOD_POST "Content-Length: 99999999999\r\n", NULL),
                   413);
  assert_int_equal(ask(*state, "POST /api/view", GOOD_POST "Content-Length: -1\r\n", NULL) / 100,
                   4);
  /* in chunks, so that no length is told before */
  static char chunks[16384];
  size_t n = 0;
  for (int i = 0; i < 8; i++) {
    n += (size_t)snprintf(chunks + n, sizeof chunks - n, "400\r\n%.1024s\r\n", body);
  }
  snprintf(chunks + n, sizeof chunks - n, "0\r\n\r\n");
  static char request[20000];
  snprintf(request, sizeof request,
           "POST /api/view HTTP/1.1\r\nHost: 127.0.0.1:%u\r\nX-Tripwright-Token: %s\r\n"
           "Origin: http://127.0.0.1:%u\r\nContent-Type: application/json\r\n"
           "Connection: close\r\nTransfer-Encoding: chunked\r\n\r\n%s",
           (unsigned)tw_server_port(*state), tw_server_token(*state),
           (unsigned)tw_server_port(*state), chunks);
  assert_int_equal(tw_http_ask(tw_server_port(*state), request, &answer), 413);
  /* headers larger than the server will hold */
  static char large[60000];
  n = (size_t)snprintf(large, sizeof large, "Host: %%H\r\nX-Large: ");
  memset(large + n, 'a', 40000);
  memcpy(large + n + 40000, "\r\n", 3);
  const int code = ask(*state, "GET /", large, NULL);
  assert_true(code == 431 || code == 413 || code == 0);
  assert_int_equal(ask(*state, "GET /", "Host: %H\r\n", NULL), 200);
}

static double seconds(void)
{
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* one byte every 300 ms keeps a plain idle limit awake: the whole request has a limit of 1 s */
static void a_slow_client_is_shut_out(void **state)
{
  const double began = seconds();
  const int s = tw_http_open(tw_server_port(*state));
  const char *request =
      "GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: aaaaaaaaaaaaaaaaaaaaaaaaaaaaaa";
  bool shut = false;
  for (const char *c = request; *c && !shut; c++) {
    const struct timespec pause = {.tv_nsec = 300000000};
    char byte;
    shut = send(s, c, 1, MSG_NOSIGNAL) < 0 || recv(s, &byte, 1, MSG_DONTWAIT) == 0;
    nanosleep(&pause, NULL);
  }
  close(s);
  assert_true(shut);
  assert_true(seconds() - began < 5.0);
}

static void five_hundred_at_once(void **state)
{
  enum { MANY = 500 };
  static int sockets[MANY];
  static char request[512];
  snprintf(request, sizeof request,
           "GET /api/design HTTP/1.1\r\nHost: 127.0.0.1:%u\r\nX-Tripwright-Token: %s\r\n"
           "Connection: close\r\n\r\n",
           (unsigned)tw_server_port(*state), tw_server_token(*state));
  int opened = 0, answered = 0;
  for (int i = 0; i < MANY; i++) {
    sockets[i] = tw_http_open(tw_server_port(*state));
    opened += sockets[i] >= 0;
  }
  for (int i = 0; i < MANY; i++) {
    if (sockets[i] >= 0) {
      (void)!send(sockets[i], request, strlen(request), MSG_NOSIGNAL);
    }
  }
  for (int i = 0; i < MANY; i++) {
    if (sockets[i] >= 0) {
      tw_http_read(sockets[i], &answer);
      answered += answer.code == 200;
      close(sockets[i]);
    }
  }
  print_message("%d opened, %d answered\n", opened, answered);
  assert_int_equal(opened, MANY);
  assert_int_equal(answered, MANY);
  assert_int_equal(ask(*state, "GET /", "Host: %H\r\n", NULL), 200);
}

static void a_question_for_changes_is_held(void **state)
{
  double began = seconds();
  assert_int_equal(ask(*state, "GET /api/changes?seen=00000000000000aa", GOOD_GET, NULL), 200);
  assert_true(seconds() - began > 0.8); /* held for hold_seconds */
  began = seconds();
  assert_int_equal(ask(*state, "GET /api/changes?seen=other", GOOD_GET, NULL), 200);
  assert_true(seconds() - began < 0.5);
  assert_non_null(strstr(answer.body, "00000000000000aa"));
}

static void a_job_is_polled_and_cancelled(void **state)
{
  assert_int_equal(ask(*state, "POST /api/job", GOOD_POST, "{\"view\":\"long\"}"), 202);
  int number = 0;
  assert_int_equal(sscanf(answer.body, "{\"job\":%d}", &number), 1);
  char line[64];
  snprintf(line, sizeof line, "GET /api/job?number=%d", number);
  const struct timespec pause = {.tv_nsec = 200000000};
  nanosleep(&pause, NULL);
  assert_int_equal(ask(*state, line, GOOD_GET, NULL), 202);
  assert_non_null(strstr(answer.body, "counting"));
  /* the page stays quick while a job runs */
  const double began = seconds();
  assert_int_equal(ask(*state, "POST /api/view", GOOD_POST, "{\"view\":\"check\"}"), 200);
  assert_true(seconds() - began < 1.0);
  snprintf(line, sizeof line, "DELETE /api/job?number=%d", number);
  assert_int_equal(ask(*state, line, GOOD_POST, NULL), 200);
  const int before = cancelled;
  for (int i = 0; i < 50 && cancelled == before; i++) {
    nanosleep(&pause, NULL);
  }
  assert_true(cancelled > 0);
  assert_int_equal(ask(*state, "GET /api/job?number=999", GOOD_GET, NULL), 404);
  assert_int_equal(ask(*state, "GET /api/job?number=1x", GOOD_GET, NULL), 404);
  assert_int_equal(ask(*state, "DELETE /api/job?number=1", GOOD_GET, NULL), 403);
}

static int new_job(tw_server *server, const char *body)
{
  int number = 0;
  assert_int_equal(ask(server, "POST /api/job", GOOD_POST, body), 202);
  assert_int_equal(sscanf(answer.body, "{\"job\":%d}", &number), 1);
  return number;
}

static int ask_job(tw_server *server, const char *method, int number, int seen)
{
  char line[80];
  snprintf(line, sizeof line, "%s /api/job?number=%d&part=%d", method, number, seen);
  return ask(server, line, strcmp(method, "GET") == 0 ? GOOD_GET : GOOD_POST, NULL);
}

static int number_after(const char *key)
{
  const char *at = strstr(answer.body, key);
  return at ? atoi(at + strlen(key)) : -1;
}

static void a_study_tells_what_it_knows(void **state)
{
  const struct timespec pause = {.tv_nsec = 100000000};
  const int number = new_job(*state, "{\"view\":\"study\"}");
  int first = -1;
  for (int i = 0; i < 50 && first < 0; i++) {
    nanosleep(&pause, NULL);
    assert_int_equal(ask_job(*state, "GET", number, 0), 202);
    first = number_after("\"partial\":{\"count\":");
  }
  assert_true(first >= 0);
  nanosleep(&pause, NULL);
  assert_int_equal(ask_job(*state, "GET", number, 0), 202);
  const int later = number_after("\"partial\":{\"count\":");
  assert_true(later > first); /* it grows */
  /* stopped: what was done comes once more, with the reason */
  assert_int_equal(ask_job(*state, "DELETE", number, 0), 200);
  int code = 202;
  for (int i = 0; i < 50 && code == 202; i++) {
    nanosleep(&pause, NULL);
    code = ask_job(*state, "GET", number, 0);
  }
  assert_int_equal(code, 503);
  assert_true(number_after("\"count\":") >= later);
  assert_non_null(strstr(answer.body, "stopped"));
}

static void what_was_seen_is_not_sent_again(void **state)
{
  const struct timespec pause = {.tv_nsec = 200000000};
  const int number = new_job(*state, "{\"view\":\"still\"}");
  nanosleep(&pause, NULL);
  assert_int_equal(ask_job(*state, "GET", number, 0), 202);
  assert_int_equal(number_after("\"part\":"), 1);
  assert_int_equal(number_after("\"partial\":{\"count\":"), 7);
  assert_int_equal(ask_job(*state, "GET", number, 1), 202);
  assert_int_equal(number_after("\"part\":"), 1);
  assert_null(strstr(answer.body, "partial"));
  ask_job(*state, "DELETE", number, 0);
}

static void one_study_runs_at_a_time(void **state)
{
  const struct timespec pause = {.tv_nsec = 300000000};
  studies_most = 0;
  const int first = new_job(*state, "{\"view\":\"study\"}");
  const int second = new_job(*state, "{\"view\":\"study\"}");
  const int quick = new_job(*state, "{\"view\":\"check\"}");
  nanosleep(&pause, NULL);
  assert_int_equal(ask_job(*state, "GET", quick, 0), 200); /* a thread was left for it */
  assert_int_equal(ask_job(*state, "GET", second, 0), 202);
  assert_non_null(strstr(answer.body, "\"runs\":false"));
  ask_job(*state, "DELETE", first, 0);
  int runs = 0;
  for (int i = 0; i < 20 && !runs; i++) {
    nanosleep(&pause, NULL);
    assert_int_equal(ask_job(*state, "GET", second, 0), 202);
    runs = strstr(answer.body, "\"runs\":true") != NULL;
  }
  assert_true(runs);
  assert_int_equal(studies_most, 1);
  ask_job(*state, "DELETE", second, 0);
}

static void jobs_have_an_end(void **state)
{
  int code = 202, taken = 0;
  while (code == 202 && taken < 100) {
    code = ask(*state, "POST /api/job", GOOD_POST, "{\"view\":\"long\"}");
    taken += code == 202;
  }
  assert_int_equal(code, 429);
  assert_int_equal(taken, 16);
}

static void *ask_for_changes(void *server)
{
  static tw_http held;
  char request[512];
  snprintf(request, sizeof request,
           "GET /api/changes?seen=%s HTTP/1.1\r\nHost: 127.0.0.1:%u\r\nX-Tripwright-Token: %s\r\n"
           "Connection: close\r\n\r\n",
           print_of_file, (unsigned)tw_server_port(server), tw_server_token(server));
  tw_http_ask(tw_server_port(server), request, &held);
  return NULL;
}

static void it_stops_with_a_job_running_and_a_question_held(void **state)
{
  (void)state;
  tw_server *server = start();
  pthread_t thread;
  assert_int_equal(ask(server, "POST /api/job", GOOD_POST, "{\"view\":\"long\"}"), 202);
  pthread_create(&thread, NULL, ask_for_changes, server);
  const struct timespec pause = {.tv_nsec = 100000000};
  nanosleep(&pause, NULL);
  const double began = seconds();
  const uint16_t port = tw_server_port(server);
  tw_server_stop(server);
  pthread_join(thread, NULL);
  assert_true(seconds() - began < 2.0);
  assert_int_equal(tw_http_open(port), -1);
}

static void a_port_in_use_is_said(void **state)
{
  tw_serve_options options = tw_serve_defaults();
  tw_server *second = NULL;
  tw_fault fault = {0};
  options.port = tw_server_port(*state);
  assert_int_equal(tw_server_start(&model, &options, &second, &fault), TW_NO_FILE);
  assert_non_null(strstr(fault.text, "cannot be used"));
  assert_null(second);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
#define WITH(f) cmocka_unit_test_setup_teardown(f, setup, teardown)
      WITH(what_is_right_passes),
      WITH(a_wrong_host_is_misdirected),
      WITH(a_wrong_origin_is_forbidden),
      WITH(a_wrong_token_is_unauthorized),
      WITH(a_wrong_type_or_body_is_refused),
      WITH(no_path_of_the_client_is_ever_used),
      WITH(too_large_is_refused_with_and_without_a_length),
      WITH(a_slow_client_is_shut_out),
      cmocka_unit_test_setup_teardown(five_hundred_at_once, setup_patient, teardown),
      WITH(a_question_for_changes_is_held),
      WITH(a_job_is_polled_and_cancelled),
      WITH(a_study_tells_what_it_knows),
      WITH(what_was_seen_is_not_sent_again),
      WITH(one_study_runs_at_a_time),
      WITH(jobs_have_an_end),
      cmocka_unit_test(it_stops_with_a_job_running_and_a_question_held),
      WITH(a_port_in_use_is_said),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
