/* http.h: the least of an HTTP client: raw bytes out, status and body back, for server tests. */
#ifndef TW_TEST_HTTP_H
#define TW_TEST_HTTP_H

#include <arpa/inet.h>
#include <netinet/in.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <unistd.h>

typedef struct tw_http {
  int code; /* 0: no answer */
  char text[65536];
  const char *body;
} tw_http;

static inline int tw_http_open(uint16_t port)
{
  const struct sockaddr_in address = {
      .sin_family = AF_INET, .sin_port = htons(port), .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
  const int s = socket(AF_INET, SOCK_STREAM, 0);
  const struct timeval limit = {.tv_sec = 20};
  setsockopt(s, SOL_SOCKET, SO_RCVTIMEO, &limit, sizeof limit);
  if (s >= 0 && connect(s, (const struct sockaddr *)&address, sizeof address) != 0) {
    close(s);
    return -1;
  }
  return s;
}

/* everything until the other side closes, or the buffer or the time is used up */
static inline void tw_http_read(int s, tw_http *answer)
{
  size_t length = 0;
  ssize_t n;
  answer->code = 0;
  while (length < sizeof answer->text - 1 &&
         (n = recv(s, answer->text + length, sizeof answer->text - 1 - length, 0)) > 0) {
    length += (size_t)n;
  }
  answer->text[length] = '\0';
  const char *body = strstr(answer->text, "\r\n\r\n");
  answer->body = body ? body + 4 : "";
  if (strncmp(answer->text, "HTTP/1.1 ", 9) == 0) {
    answer->code = (int)strtol(answer->text + 9, NULL, 10);
  }
}

static inline int tw_http_ask(uint16_t port, const char *request, tw_http *answer)
{
  const int s = tw_http_open(port);
  answer->code = 0;
  answer->text[0] = '\0';
  answer->body = "";
  if (s >= 0) {
    size_t left = strlen(request);
    while (left > 0) {
      const ssize_t n = send(s, request, left, MSG_NOSIGNAL);
      if (n <= 0) {
        break;
      }
      request += n;
      left -= (size_t)n;
    }
    tw_http_read(s, answer);
    close(s);
  }
  return answer->code;
}

#endif
