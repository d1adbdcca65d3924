/* zip.c: capture zips of the sigrok session format, version 2 (sigrok.org wiki, "File format:
 * Sigrok/v2": `version`, `metadata` in INI style, logic-1[-N] with unitsize bytes a sample,
 * analog-1-CHANNEL[-N]; that analog samples are 32-bit floats, little-endian, in volts, is from
 * memory). The archive is never unpacked to disk: every channel is read through its own entry. */
#include "stream.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <zip.h>

#define METADATA_MOST 65536
#define FLOAT_BYTES   4
#define UNIT_MOST     8
#define PIECES_MOST   100000

struct entry { /* one stream: the pieces of a channel one behind the other */
  char stem[32];
  zip_file_t *file;
  int piece;
  bool single; /* without a number of a piece */
};

struct session {
  tw_rows rows;
  tw_bytes *bytes;
  zip_t *archive;
  zip_source_t *source;
  zip_error_t error;
  double rate;
  unsigned unit; /* bytes of a logic sample */
  struct entry entry[TW_CAPTURE_CHANNELS + 1];
  size_t analog; /* entries 0..analog - 1 */
  unsigned bit[TW_CAPTURE_CHANNELS];
  size_t logic; /* channels behind the analog ones, all of entry `analog` */
  unsigned char block[TW_STREAM_BLOCK * UNIT_MOST];
  /* for the archive's own reading of our bytes */
  uint64_t at;
};

static struct session *session_of(tw_rows *rows)
{
  return (struct session *)rows;
}

/* ---- our bytes as a source of the library ------------------------------------------------------
 */

static zip_int64_t source_seek(struct session *s, void *data, zip_uint64_t length)
{
  const zip_int64_t to =
      zip_source_seek_compute_offset(s->at, s->bytes->size, data, length, &s->error);
  if (to < 0 || !tw_bytes_seek(s->bytes, (uint64_t)to)) {
    return -1;
  }
  s->at = (uint64_t)to;
  return 0;
}

static zip_int64_t source(void *self, void *data, zip_uint64_t length, zip_source_cmd_t command)
{
  struct session *s = self;
  switch (command) {
  case ZIP_SOURCE_OPEN:
    s->at = 0;
    return tw_bytes_seek(s->bytes, 0) ? 0 : -1;
  case ZIP_SOURCE_READ: {
    const size_t n = tw_bytes_read(s->bytes, data, (size_t)length);
    s->at += n;
    return (zip_int64_t)n;
  }
  case ZIP_SOURCE_SEEK:
    return source_seek(s, data, length);
  case ZIP_SOURCE_TELL:
    return (zip_int64_t)s->at;
  case ZIP_SOURCE_STAT: {
    zip_stat_t *about = data;
    zip_stat_init(about);
    about->size = s->bytes->size;
    about->valid |= ZIP_STAT_SIZE;
    return sizeof *about;
  }
  case ZIP_SOURCE_ERROR:
    return zip_error_to_data(&s->error, data, length);
  case ZIP_SOURCE_SUPPORTS:
    return zip_source_make_command_bitmap(ZIP_SOURCE_OPEN, ZIP_SOURCE_READ, ZIP_SOURCE_CLOSE,
                                          ZIP_SOURCE_STAT, ZIP_SOURCE_ERROR, ZIP_SOURCE_FREE,
                                          ZIP_SOURCE_SEEK, ZIP_SOURCE_TELL, -1);
  default:
    return 0;
  }
}

static tw_status refuse(const struct session *s, const char *hint, const char *text)
{
  return tw_refuse(s->rows.messages, s->rows.name, 0, hint, "%s", text);
}

static tw_status open_archive(struct session *s)
{
  zip_error_init(&s->error);
  s->source = zip_source_function_create(source, s, &s->error);
  if (!s->source) {
    return TW_NO_MEMORY;
  }
  s->archive = zip_open_from_source(s->source, ZIP_RDONLY, &s->error);
  if (!s->archive) {
    zip_source_free(s->source);
    return tw_refuse(s->rows.messages, s->rows.name, 0, "save the capture again",
                     "the zip archive is damaged or cut: %.100s", zip_error_strerror(&s->error));
  }
  return TW_OK;
}

/* ---- metadata ---------------------------------------------------------------------------------
 */

/* "1 MHz", "500 kHz", "200000" */
static double rate_of(const char *text)
{
  char *end;
  const double number = strtod(text, &end);
  while (*end == ' ') {
    end++;
  }
  const double scale = strncasecmp(end, "k", 1) == 0   ? 1e3
                       : *end == 'M'                   ? 1e6
                       : strncasecmp(end, "g", 1) == 0 ? 1e9
                                                       : 1;
  return number * scale;
}

static void named(char *out, size_t size, const char *text)
{
  size_t n = 0;
  for (; *text && n + 1 < size; text++) {
    out[n++] = *text >= ' ' && *text < 127 ? *text : '?';
  }
  out[n] = '\0';
}

static void add_analog(struct session *s, tw_capture_record *r, const char *number,
                       const char *name)
{
  if (s->analog + s->logic == TW_CAPTURE_CHANNELS || s->logic > 0) {
    s->rows.channels = TW_CAPTURE_CHANNELS + 1; /* too many, said below; or behind the logic ones */
    return;
  }
  tw_capture_channel *c = &r->channel[s->analog];
  named(c->name, sizeof c->name, name);
  snprintf(c->unit, sizeof c->unit, "V");
  snprintf(s->entry[s->analog].stem, sizeof s->entry[0].stem, "analog-1-%.8s", number);
  s->analog++;
}

static void add_logic(struct session *s, tw_capture_record *r, const char *number, const char *name)
{
  const long bit = strtol(number, NULL, 10);
  if (bit < 1 || bit > 8 * UNIT_MOST || s->analog + s->logic >= TW_CAPTURE_CHANNELS) {
    s->rows.channels = TW_CAPTURE_CHANNELS + 1;
    return;
  }
  tw_capture_channel *c = &r->channel[s->analog + s->logic];
  named(c->name, sizeof c->name, name);
  snprintf(c->unit, sizeof c->unit, "1");
  s->bit[s->logic++] = (unsigned)(bit - 1);
}

/* the lines of the metadata, first those of one kind, then of the other, since the analog channels
 * go before the logic ones */
static void each_line(char *text, struct session *s, tw_capture_record *r, bool logic)
{
  for (char *at = text; *at;) {
    char line[256];
    const size_t n = strcspn(at, "\r\n");
    snprintf(line, sizeof line, "%.*s", n < 255 ? (int)n : 255, at);
    at += n + (at[n] != '\0');
    char *equals = strchr(line, '=');
    if (!equals || line[0] == '#') {
      continue;
    }
    char *value = equals + 1 + strspn(equals + 1, " \t");
    for (char *p = equals; p > line && (p[-1] == ' ' || p[-1] == '\t'); p--) {
      p[-1] = '\0';
    }
    *equals = '\0';
    if (logic) {
      if (strncmp(line, "probe", 5) == 0 && s->unit > 0) {
        add_logic(s, r, line + 5, value);
      }
    } else if (strncmp(line, "analog", 6) == 0) {
      add_analog(s, r, line + 6, value);
    } else if (strcmp(line, "samplerate") == 0) {
      s->rate = rate_of(value);
    } else if (strcmp(line, "unitsize") == 0) {
      s->unit = (unsigned)strtoul(value, NULL, 10);
    }
  }
}

static tw_status read_metadata(struct session *s, tw_capture_record *r)
{
  zip_file_t *file = zip_fopen(s->archive, "metadata", 0);
  if (!file) {
    return refuse(s, "unpack it and hand over the file inside",
                  "the zip is no capture: it has no entry \"metadata\"");
  }
  char *text = tw_alloc(1, METADATA_MOST + 1);
  if (!text) {
    zip_fclose(file);
    return TW_NO_MEMORY;
  }
  const zip_int64_t n = zip_fread(file, text, METADATA_MOST);
  zip_fclose(file);
  text[n > 0 ? n : 0] = '\0';
  each_line(text, s, r, false);
  each_line(text, s, r, true);
  tw_free(text);
  if (s->rows.channels > TW_CAPTURE_CHANNELS) {
    return refuse(s, "record fewer channels", "more than 16 channels in the capture");
  }
  if (s->unit > UNIT_MOST || !(s->rate > 0) || !isfinite(s->rate)) {
    return refuse(s, "save the capture again with its rate",
                  "the capture names no sample rate, or a sample of more than 8 bytes");
  }
  if (s->analog + s->logic == 0) {
    return refuse(s, "record an analog channel", "the capture names no channel");
  }
  return TW_OK;
}

/* ---- rows -------------------------------------------------------------------------------------
 */

/* the next piece of an entry; false: there is none */
static bool next_piece(struct session *s, struct entry *e)
{
  char name[64];
  if (e->file) {
    zip_fclose(e->file);
    e->file = NULL;
  }
  if (e->single || e->piece >= PIECES_MOST) {
    return false;
  }
  snprintf(name, sizeof name, "%s-%d", e->stem, ++e->piece);
  e->file = zip_fopen(s->archive, name, 0);
  if (!e->file && e->piece == 1) {
    e->single = true;
    e->file = zip_fopen(s->archive, e->stem, 0);
  }
  return e->file != NULL;
}

/* up to `count` samples of `wide` bytes; a piece that ends within a sample is an error */
static tw_status take(struct session *s, struct entry *e, size_t wide, size_t count, size_t *got)
{
  const size_t want = wide * count;
  size_t have = 0;
  while (have < want && (e->file || next_piece(s, e))) {
    const zip_int64_t n = zip_fread(e->file, s->block + have, want - have);
    if (n < 0) {
      return refuse(s, "save the capture again", "an entry of the zip is damaged");
    }
    if (n == 0 && !next_piece(s, e)) {
      break;
    }
    have += (size_t)n;
  }
  *got = have / wide;
  return have % wide == 0 ? TW_OK
                          : refuse(s, "save the capture again", "a channel ends within a sample");
}

static uint32_t u32(const unsigned char *p)
{
  return (uint32_t)p[0] | (uint32_t)p[1] << 8 | (uint32_t)p[2] << 16 | (uint32_t)p[3] << 24;
}

static tw_status analog_block(struct session *s, size_t channel, double *out, size_t *got)
{
  const size_t width = s->rows.channels;
  const tw_status status = take(s, &s->entry[channel], FLOAT_BYTES, TW_STREAM_BLOCK, got);
  for (size_t i = 0; status == TW_OK && i < *got; i++) {
    const uint32_t bits = u32(s->block + FLOAT_BYTES * i);
    float value;
    memcpy(&value, &bits, sizeof value);
    if (!isfinite(value)) {
      return refuse(s, "record again", "not a number in an analog channel of the capture");
    }
    out[i * width + channel] = (double)value;
  }
  return status;
}

static tw_status logic_block(struct session *s, double *out, size_t *got)
{
  const size_t width = s->rows.channels;
  const tw_status status = take(s, &s->entry[s->analog], s->unit, TW_STREAM_BLOCK, got);
  for (size_t i = 0; status == TW_OK && i < *got; i++) {
    for (size_t c = 0; c < s->logic; c++) {
      const unsigned bit = s->bit[c];
      const unsigned byte = bit / 8 < s->unit ? s->block[i * s->unit + bit / 8] : 0;
      out[i * width + s->analog + c] = (double)(byte >> (bit % 8) & 1u);
    }
  }
  return status;
}

static tw_status next(tw_rows *rows, double *out, size_t *count)
{
  struct session *s = session_of(rows);
  size_t first = 0;
  *count = 0;
  for (size_t c = 0; c < s->analog + (s->logic > 0); c++) {
    size_t got = 0;
    const tw_status status =
        c < s->analog ? analog_block(s, c, out, &got) : logic_block(s, out, &got);
    if (status != TW_OK) {
      return status;
    }
    if (c > 0 && got != first) {
      return refuse(s, "save the capture again", "the channels of the capture differ in length");
    }
    first = got;
  }
  *count = first;
  return TW_OK;
}

static void shut_entries(struct session *s)
{
  for (size_t c = 0; c <= TW_CAPTURE_CHANNELS; c++) {
    if (s->entry[c].file) {
      zip_fclose(s->entry[c].file);
    }
    s->entry[c].file = NULL;
    s->entry[c].piece = 0;
    s->entry[c].single = false;
  }
}

static tw_status again(tw_rows *rows)
{
  shut_entries(session_of(rows));
  return TW_OK;
}

static void close_session(tw_rows *rows)
{
  struct session *s = session_of(rows);
  shut_entries(s);
  if (s->archive) {
    zip_discard(s->archive);
  }
  zip_error_fini(&s->error);
  tw_free(s);
}

tw_status tw_zip_open(tw_bytes *bytes, tw_messages *messages, tw_capture_record *record,
                      tw_rows **out)
{
  struct session *s = tw_alloc(1, sizeof *s);
  *out = NULL;
  if (!s) {
    return TW_NO_MEMORY;
  }
  s->bytes = bytes;
  s->rows = (tw_rows){.again = again,
                      .next = next,
                      .close = close_session,
                      .messages = messages,
                      .name = bytes->name};
  tw_status status = open_archive(s);
  status = status == TW_OK ? read_metadata(s, record) : status;
  if (status != TW_OK) {
    close_session(&s->rows);
    return status;
  }
  snprintf(s->entry[s->analog].stem, sizeof s->entry[0].stem, "logic-1");
  s->rows.channels = s->analog + s->logic;
  record->axis = TW_AXIS_TIME;
  record->interval = 1 / s->rate;
  snprintf(record->found, sizeof record->found, "%zu analog and %zu logic channels, %g Hz",
           s->analog, s->logic, s->rate);
  *out = &s->rows;
  return TW_OK;
}
