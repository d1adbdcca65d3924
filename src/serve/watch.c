/* watch.c: the thread that looks at the clock: the file on disk, those who wait, slow clients. */
#include "parts.h"

#include <string.h>
#include <sys/socket.h>
#include <time.h>

void tw_watch_connection(void *self, struct MHD_Connection *connection, void **context,
                         enum MHD_ConnectionNotificationCode code)
{
  struct tw_server *server = self;
  tw_link *link = *context;
  if (code == MHD_CONNECTION_NOTIFY_STARTED) {
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    link = info ? tw_alloc(1, sizeof *link) : NULL;
    *context = link;
    if (!link) {
      return;
    }
    link->socket = info->connect_fd;
    link->since = tw_serve_now();
    pthread_mutex_lock(&server->lock);
    link->next = server->links;
    if (link->next) {
      link->next->previous = link;
    }
    server->links = link;
    pthread_mutex_unlock(&server->lock);
  } else if (link) {
    pthread_mutex_lock(&server->lock);
    if (link->previous) {
      link->previous->next = link->next;
    } else {
      server->links = link->next;
    }
    if (link->next) {
      link->next->previous = link->previous;
    }
    pthread_mutex_unlock(&server->lock);
    tw_free(link);
    *context = NULL;
  }
}

void tw_watch_mark(struct tw_server *server, struct MHD_Connection *connection, bool held)
{
  const union MHD_ConnectionInfo *info =
      MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
  tw_link *link = info ? info->socket_context : NULL;
  if (link) {
    pthread_mutex_lock(&server->lock);
    link->since = tw_serve_now();
    link->held = held;
    pthread_mutex_unlock(&server->lock);
  }
}

/* with the lock held: whoever has taken too long over a request or a reply is shut out */
static void shut_slow(struct tw_server *server, double now)
{
  for (tw_link *link = server->links; link; link = link->next) {
    if (!link->held && now - link->since > server->options.request_seconds) {
      shutdown(link->socket, SHUT_RDWR);
      link->since = now;
    }
  }
}

/* with the lock held: answer those who wait, all of them or those whose time is up */
static void answer_waiting(struct tw_server *server, double now, bool all)
{
  tw_exchange **place = &server->waiting;
  while (*place) {
    tw_exchange *exchange = *place;
    if (all || exchange->deadline <= now) {
      *place = exchange->next;
      char text[64] = "{\"fingerprint\":\"";
      strcat(strcat(text, server->seen), "\"}");
      tw_wake(exchange, MHD_HTTP_OK, tw_copy_text(text));
    } else {
      place = &exchange->next;
    }
  }
}

void *tw_watch(void *self)
{
  struct tw_server *server = self;
  const struct timespec pause = {.tv_nsec = TW_WATCH_MS * 1000000L};
  bool stopping = false;
  while (!stopping) {
    char now_there[TW_FINGERPRINT] = "";
    server->model.fingerprint(server->model.self, now_there);
    const double now = tw_serve_now();
    pthread_mutex_lock(&server->lock);
    const bool changed = strcmp(now_there, server->seen) != 0;
    memcpy(server->seen, now_there, sizeof server->seen);
    stopping = server->stopping;
    answer_waiting(server, now, changed || stopping);
    shut_slow(server, now);
    pthread_mutex_unlock(&server->lock);
    if (!stopping) {
      nanosleep(&pause, NULL);
    }
  }
  return NULL;
}
