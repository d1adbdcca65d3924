/* completion.c: completion for bash: verbs, options, and behind them paths, measures, checks,
 * groups and parts; made from the same tables as the help. */
#include "verb.h"

#include "tripwright/assess.h"
#include "tripwright/bench.h"

#include <ctype.h>
#include <string.h>

/* what stands behind an option */
static const struct {
  const char *option, *words; /* name of a shell variable, "files" */
} behind[] = {
    {"set", "paths"},     {"field", "paths"},      {"free", "paths"},
    {"pieces", "paths"},  {"sorted-out", "paths"}, {"measure", "measures"},
    {"want", "measures"}, {"read", "checks"},      {"units", "systems"},
};

static void verbs(FILE *out)
{
  fprintf(out, "  local verbs=\"");
  for (const tw_verb *const *v = tw_verbs; *v; v++) {
    fprintf(out, "%s%s", v == tw_verbs ? "" : " ", (*v)->name);
  }
  fprintf(out, "\"\n");
}

static void paths(FILE *out)
{
  fprintf(out, "  local paths=\"");
  for (int f = 0; f < TW_FIELD_COUNT; f++) {
    fprintf(out, "%s%s", f ? " " : "", tw_field_of((tw_field)f)->path);
  }
  fprintf(out, "\"\n  local groups=\"parts processes steps grades requirements");
  const char *last = "";
  for (int f = 0; f < TW_FIELD_COUNT; f++) {
    const char *path = tw_field_of((tw_field)f)->path;
    const size_t length = strcspn(path, ".");
    if (path[length] && (strncmp(path, last, length + 1) != 0)) {
      fprintf(out, " %.*s", (int)length, path);
      last = path;
    }
  }
  fprintf(out, "\"\n");
}

static void measures(FILE *out)
{
  fprintf(out, "  local measures=\"");
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    fprintf(out, "%s%s", i ? " " : "", tw_measure_about((tw_measure_id)i)->name);
  }
  fprintf(out, "\"\n");
}

/* a check is named as its id, in small letters */
static void checks(FILE *out)
{
  static const char *const ids[] = {
#define X(id, title) #id,
      TW_BENCH_CHECKS(X)
#undef X
  };
  fprintf(out, "  local checks=\"");
  for (size_t i = 0; i < sizeof ids / sizeof ids[0]; i++) {
    fprintf(out, "%s", i ? " " : "");
    for (const char *p = ids[i]; *p; p++) {
      fputc(tolower((unsigned char)*p), out);
    }
  }
  fprintf(out, "\"\n");
}

static void options_of(const tw_option *table, FILE *out)
{
  for (const tw_option *o = table; o && o->name; o++) {
    fprintf(out, "--%s ", o->name);
  }
}

static void options(FILE *out)
{
  fprintf(out, "  case \"${COMP_WORDS[1]}\" in\n");
  for (const tw_verb *const *v = tw_verbs; *v; v++) {
    fprintf(out, "    %s) options=\"", (*v)->name);
    options_of((*v)->options, out);
    options_of((*v)->takes & TW_TAKES_JSON ? tw_common_json : NULL, out);
    options_of((*v)->takes & TW_TAKES_CSV ? tw_common_csv : NULL, out);
    options_of((*v)->takes & TW_TAKES_DESIGN ? tw_common_design : NULL, out);
    fprintf(out, "--help\" ;;\n");
  }
  fprintf(out, "  esac\n");
}

/* path= and check= go on behind the sign, so no blank follows */
static void words_behind(FILE *out)
{
  fprintf(out, "  case \"$before\" in\n");
  for (size_t i = 0; i < sizeof behind / sizeof behind[0]; i++) {
    const bool plain = strcmp(behind[i].words, "systems") == 0 ||
                       strcmp(behind[i].option, "measure") == 0 ||
                       strcmp(behind[i].option, "free") == 0;
    fprintf(out, "    --%s) COMPREPLY=($(compgen -W \"$%s\"%s -- \"$word\"))%s; return ;;\n",
            behind[i].option, behind[i].words,
            plain ? "" : " -S =", plain ? "" : "; compopt -o nospace 2>/dev/null");
  }
  fprintf(out, "  esac\n");
}

void tw_completion(FILE *out)
{
  fprintf(out,
          "# completion of tripwright for bash; source it, or leave it where it was installed\n"
          "_tripwright() {\n"
          "  local word=\"${COMP_WORDS[COMP_CWORD]}\" before=\"${COMP_WORDS[COMP_CWORD-1]}\" "
          "options=\"\" systems=\"metric inch\"\n");
  verbs(out);
  paths(out);
  measures(out);
  checks(out);
  fprintf(out, "  if [ \"$COMP_CWORD\" -eq 1 ]; then\n"
               "    COMPREPLY=($(compgen -W \"$verbs --help --version --man --completion\" -- "
               "\"$word\"))\n    return\n  fi\n");
  words_behind(out);
  options(out);
  fprintf(
      out,
      "  case \"$word\" in\n"
      "    -*) COMPREPLY=($(compgen -W \"$options\" -- \"$word\")); return ;;\n  esac\n"
      "  case \"${COMP_WORDS[1]}\" in\n"
      "    fields) COMPREPLY=($(compgen -W \"$groups $paths\" -- \"$word\")) ;;\n"
      "    parts) COMPREPLY=($(compgen -W \"$(tripwright parts --ids 2>/dev/null)\" -- \"$word\")) "
      ";;\n"
      "    *) COMPREPLY=($(compgen -f -- \"$word\")) ;;\n"
      "  esac\n}\ncomplete -o filenames -F _tripwright tripwright\n");
}
