/* pass.h: what the file of a pass needs: its row, its keys, its call. */
#ifndef PASSES_PASS_H
#define PASSES_PASS_H

#include "mutanza/pass.h"
#include <stddef.h>

typedef enum {
    MUTA_OTHERS_REST,
    MUTA_OTHERS_REPEAT,
    MUTA_OTHERS_STRETCH
} muta_others;

/* Whether the others go along where the tune gets other pitches: if it was the tune that was asked
 * for, always, never. */
typedef enum {
    MUTA_FOLLOW_TUNE,
    MUTA_FOLLOW,
    MUTA_LEAVE
} muta_accompaniment;

/* The keys that passes have in common; each takes some of them. */
typedef struct muta_common {
    const char *where; /* NULL when not given */
    const char *keep;
    int keys;          /* a muta_keys */
    int others;        /* a muta_others */
    int accompaniment; /* a muta_accompaniment */
    int64_t pick;
} muta_common;

/* One run of a pass: it reads `in`, which is const, and fills `out`, which is fresh. */
struct muta_call {
    const muta_passage *in;
    muta_passage *out;
    const void *args; /* the pass's own struct, filled from its params */
    muta_keys keys;
    muta_others others;
    bool is_placed;   /* somebody said where */
    const bool *kept; /* by event of `in`: it stays as it is; NULL when none was named */
    uint64_t seed;
    size_t pick; /* of a search the best answer, 1, or one of the next */
    muta_diags *diags;
};

/* Each checks the type of the field and keeps its offset. */
#define MUTA_FIELD(args, field, type) _Generic(((args *)0)->field, type : offsetof(args, field))

#define MUTA_ARG_INTERVAL(args, field, default_text, help_text)                                    \
    {                                                                                              \
        .name = #field, .type = MUTA_PARAM_INTERVAL, .otherwise = (default_text),                  \
        .help = (help_text), .offset = MUTA_FIELD(args, field, muta_interval)                      \
    }

#define MUTA_ARG_KEY(args, field, help_text)                                                       \
    {                                                                                              \
        .name = #field, .type = MUTA_PARAM_KEY, .help = (help_text),                               \
        .offset = MUTA_FIELD(args, field, muta_given_key)                                          \
    }

#define MUTA_ARG_KEY_INSTEAD(args, field, other, help_text)                                        \
    {                                                                                              \
        .name = #field, .type = MUTA_PARAM_KEY, .help = (help_text), .instead_of = #other,         \
        .offset = MUTA_FIELD(args, field, muta_given_key)                                          \
    }

#define MUTA_ARG_CHOICE(args, field, default_text, choice_names, help_text)                        \
    {                                                                                              \
        .name = #field, .type = MUTA_PARAM_CHOICE, .otherwise = (default_text),                    \
        .choices = (choice_names), .help = (help_text), .offset = MUTA_FIELD(args, field, int)     \
    }

#define MUTA_ARG_COUNT(args, field, default_text, low, high, unit_text, help_text)                 \
    {                                                                                              \
        .name = #field, .type = MUTA_PARAM_COUNT, .otherwise = (default_text), .least = (low),     \
        .most = (high), .unit = (unit_text), .help = (help_text),                                  \
        .offset = MUTA_FIELD(args, field, int64_t)                                                 \
    }

#define MUTA_ARG_RATIO(args, field, default_text, help_text)                                       \
    {                                                                                              \
        .name = #field, .type = MUTA_PARAM_RATIO, .otherwise = (default_text),                     \
        .help = (help_text), .offset = MUTA_FIELD(args, field, muta_fraction)                      \
    }

#define MUTA_ARG_NAME(args, field, default_text, names_table, help_text)                           \
    {                                                                                              \
        .name = #field, .type = MUTA_PARAM_NAME, .otherwise = (default_text),                      \
        .table = (names_table), .help = (help_text),                                               \
        .offset = MUTA_FIELD(args, field, const char *)                                            \
    }

#define MUTA_ARG_DURATION(args, field, default_text, help_text)                                    \
    {                                                                                              \
        .name = #field, .type = MUTA_PARAM_DURATION, .otherwise = (default_text),                  \
        .help = (help_text), .offset = MUTA_FIELD(args, field, muta_fraction)                      \
    }

#define MUTA_ARG_SHARE(args, field, default_text, help_text)                                       \
    {                                                                                              \
        .name = #field, .type = MUTA_PARAM_SHARE, .otherwise = (default_text),                     \
        .help = (help_text), .offset = MUTA_FIELD(args, field, muta_fraction)                      \
    }

#define MUTA_ARG_RANGE(args, field, help_text)                                                     \
    {                                                                                              \
        .name = #field, .type = MUTA_PARAM_RANGE, .help = (help_text),                             \
        .offset = MUTA_FIELD(args, field, muta_given_range)                                        \
    }

#define MUTA_ARG_RANGE_INSTEAD(args, field, other, help_text)                                      \
    {                                                                                              \
        .name = #field, .type = MUTA_PARAM_RANGE, .help = (help_text), .instead_of = #other,       \
        .offset = MUTA_FIELD(args, field, muta_given_range)                                        \
    }

#define MUTA_ARG_AXIS(args, field, default_text, choice_names, help_text)                          \
    {                                                                                              \
        .name = #field, .type = MUTA_PARAM_AXIS, .otherwise = (default_text),                      \
        .choices = (choice_names), .help = (help_text),                                            \
        .offset = MUTA_FIELD(args, field, muta_axis)                                               \
    }

#define MUTA_ARG_TEXT(args, field, help_text)                                                      \
    {                                                                                              \
        .name = #field, .type = MUTA_PARAM_TEXT, .help = (help_text),                              \
        .offset = MUTA_FIELD(args, field, const char *)                                            \
    }

#define MUTA_ARG_WORD(args, field, default_text, help_text)                                        \
    {                                                                                              \
        .name = #field, .type = MUTA_PARAM_TEXT, .otherwise = (default_text), .help = (help_text), \
        .offset = MUTA_FIELD(args, field, const char *)                                            \
    }

/* What retrograde and rotate work on. */
enum {
    MUTA_OF_ALL,
    MUTA_OF_PITCH,
    MUTA_OF_RHYTHM
};
extern const char *const muta_ofs[];

/* Whether the figures of tempo marks stay when all values are others: 0, or are scaled: 1. */
extern const char *const muta_tempos[];
#define MUTA_ARG_TEMPO(args)                                                                       \
    MUTA_ARG_CHOICE(args, tempo, "keep", muta_tempos,                                              \
                    "whether tempo marks keep their figures, or are scaled with the values")

/* Off and on: 0 and 1. */
extern const char *const muta_yes_or_no[];

/* The names of muta_kind, for the passes that know both forms. */
extern const char *const muta_kinds[];

#define MUTA_PARAMS(list, args)                                                                    \
    .params = (list), .param_count = MUTA_LENGTH(list), .args_size = sizeof(args)

/* The rows, by name; src/passes/list.h has them in order. */
#define PASS(name) extern const muta_pass muta_pass_##name;
#include "passes/list.h"
#undef PASS

/* Which events of the work keep= names. @param kept  by event, false so far */
muta_status muta_keep_find(const muta_passage *in, const char *keep, bool *kept,
                           muta_diags *diags) MUTA_CHECK;
/* Gives back, in `out`, the pitches of these events as they were in `in`. */
muta_status muta_keep(const muta_passage *in, const bool *kept, muta_passage *out) MUTA_CHECK;

/* The tone of the answer that a tone was copied to: events keep their order, tones may not. */
muta_tone *muta_counterpart(const muta_call *call, const muta_tone *tone);
/* The tune's tone that is struck at a moment; NULL when none is. */
const muta_tone *muta_tune_at(const muta_texture *work, muta_fraction time);
/* Whether an event does nothing but go with the tune in parallel. */
bool muta_goes_along(const muta_texture *work, const muta_event *event);
/* Whether a line has such events. */
bool muta_is_companion(const muta_texture *work, const muta_line *line);
/* Whether a chord carries the tune on its top, alone: its other tones go along under it. */
bool muta_has_tune_on_top(const muta_texture *work, const muta_event *event);
/* Moves what of such lines does, copied to the answer as they were, as far in the key as the tune
 * was moved. */
muta_status muta_follow_all(const muta_call *call) MUTA_CHECK;

/* Puts the accompaniment of a tune that is not what it was on chords that fit it. The chords of
 * `in` are those that stood there before; they stay where they do. */
muta_status muta_harmonise_anew(const muta_call *call) MUTA_CHECK;

/* Brings lines back into their range by octaves, and says so. */
muta_status muta_fold(const muta_call *call, size_t first, size_t count) MUTA_CHECK;

/* Fills a pass's arguments with their defaults, in order of its params. */
muta_status muta_args_default(const muta_pass *pass, void *args) MUTA_CHECK;
/* Parses one value; the reason of a failure goes to `diags`. */
muta_status muta_args_set(const muta_param *param, const char *value, void *args,
                          muta_diags *diags) MUTA_CHECK;
/* The index of a choice; its count when there is none of that name. */
size_t muta_choice_find(const char *const *choices, const char *value, size_t *count);

#endif
