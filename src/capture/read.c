/* read.c: which reader a file belongs to, by its first bytes, never by its name. */
#include "stream.h"

#include "tripwright/files.h"

#include <math.h>
#include <string.h>
#include <sys/stat.h>

#define MAGIC 12

static tw_capture_record *record_new(const char *name, uint64_t size)
{
  tw_capture_record *r = tw_alloc(1, sizeof *r);
  if (r) {
    snprintf(r->file, sizeof r->file, "%s", name);
    r->bytes = size;
    r->told_attenuation = r->told_trigger = r->told_pretrigger = r->told_rows = (double)NAN;
    r->interval = (double)NAN;
  }
  return r;
}

void tw_capture_record_free(tw_capture_record *record)
{
  if (record) {
    for (size_t c = 0; c < TW_CAPTURE_CHANNELS; c++) {
      tw_free(record->channel[c].value);
    }
    tw_free(record->stamp);
    tw_free(record->outline);
    tw_free(record);
  }
}

typedef tw_status (*opener)(tw_bytes *bytes, tw_messages *messages, tw_capture_record *record,
                            tw_rows **out);

/* NULL: text */
static opener opener_of(const unsigned char *magic, size_t n, const char **kind)
{
  static const struct {
    const char *magic, *kind;
    opener open;
  } kinds[] = {
      {"RIFF", "WAV", tw_wav_open},   {"fLaC", "FLAC", tw_sound_open},
      {"OggS", "Ogg", tw_sound_open}, {"FORM", "AIFF", tw_sound_open},
      {"caff", "CAF", tw_sound_open}, {"RF64", "RF64", tw_sound_open},
      {".snd", "AU", tw_sound_open},  {"PK\x03\x04", "zip", tw_zip_open},
  };
  for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
    if (n >= 4 && memcmp(magic, kinds[i].magic, 4) == 0) {
      *kind = kinds[i].kind;
      return kinds[i].open;
    }
  }
  *kind = "CSV";
  return NULL;
}

static tw_status read_with(tw_bytes *bytes, const tw_capture_reading *reading,
                           tw_messages *messages, tw_capture_record *record)
{
  unsigned char magic[MAGIC];
  const char *kind;
  if (bytes->size == 0) {
    return tw_refuse(messages, bytes->name, 0, "export the recording again", "the file is empty");
  }
  if (bytes->size > TW_CAPTURE_FILE_LIMIT) {
    return tw_refuse(messages, bytes->name, 0, "cut out the part that matters",
                     "the file has more than %llu MB",
                     (unsigned long long)(TW_CAPTURE_FILE_LIMIT >> 20));
  }
  const size_t n = tw_bytes_read(bytes, magic, MAGIC);
  tw_rows *rows = NULL;
  const opener open = opener_of(magic, n, &kind);
  snprintf(record->kind, sizeof record->kind, "%s", kind);
  if (!tw_bytes_seek(bytes, 0)) {
    return tw_refuse(messages, bytes->name, 0, "save it as a file", "it cannot be read twice");
  }
  tw_status status = open ? open(bytes, messages, record, &rows)
                          : tw_csv_open(bytes, reading, messages, record, &rows);
  if (status == TW_OK) {
    status = tw_collect(rows, reading, record);
  }
  if (rows) {
    rows->close(rows);
  }
  return status;
}

static tw_status read_bytes(tw_bytes *bytes, const tw_capture_reading *reading,
                            tw_messages *messages, tw_capture_record **out)
{
  tw_capture_reading plain;
  tw_capture_reading_start(&plain);
  tw_capture_record *record = record_new(bytes->name, bytes->size);
  tw_status status = TW_NO_MEMORY;
  if (record) {
    status = read_with(bytes, reading ? reading : &plain, messages, record);
  }
  if (status == TW_OK && tw_messages_lost(messages)) {
    status = TW_NO_MEMORY;
  }
  if (status != TW_OK) {
    tw_capture_record_free(record);
    record = NULL;
  }
  *out = record;
  return status;
}

tw_status tw_capture_read(const char *file, const tw_capture_reading *reading,
                          tw_messages *messages, tw_capture_record **out)
{
  *out = NULL;
  tw_fault fault = {0};
  tw_bytes bytes = {.name = file};
  tw_status status = tw_file_open(file, &fault, &bytes.file);
  if (status != TW_OK) {
    tw_messages_add_fault(messages, &fault, (tw_place){0}, NULL);
    return status;
  }
  struct stat about;
  if (fstat(fileno(bytes.file), &about) != 0 || !S_ISREG(about.st_mode)) {
    fclose(bytes.file);
    return tw_refuse(messages, file, 0, "save it as a file", "a recording is read twice");
  }
  bytes.size = (uint64_t)about.st_size;
  status = read_bytes(&bytes, reading, messages, out);
  fclose(bytes.file);
  return status;
}

tw_status tw_capture_read_bytes(const char *name, const void *data, size_t size,
                                const tw_capture_reading *reading, tw_messages *messages,
                                tw_capture_record **out)
{
  tw_bytes bytes = {.memory = data, .size = size, .name = name};
  return read_bytes(&bytes, reading, messages, out);
}
