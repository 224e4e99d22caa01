/* study.h: what a study holds, for the files that make it and those that print it. */
#ifndef STUDY_STUDY_H
#define STUDY_STUDY_H

#include "mutanza/study.h"
#include "score/region.h"
#include "study/harmony.h"

/* A stretch in which one line has the tune, or the bass. */
typedef struct muta_lead {
    int64_t from;
    int64_t to;
    uint32_t line;
} muta_lead;

typedef MUTA_VEC(muta_lead) muta_leads;

/* A stretch in which a line strikes what the tune strikes, and nothing else. */
typedef struct muta_companion {
    muta_lead lead;
    bool is_parallel; /* in octaves, thirds or sixths with it */
} muta_companion;

typedef MUTA_VEC(uint32_t) muta_melody; /* tones of `heard`, one after the other */

typedef struct muta_heard_key {
    int64_t from;
    int64_t to;
    int32_t fifths;     /* of the tonic */
    int32_t confidence; /* in thousandths */
    muta_mode scale;    /* the church mode that its tones make up, where it is not plain */
    uint8_t key;
} muta_heard_key;

typedef struct muta_phrase {
    int64_t from;
    int64_t to;
    uint32_t first; /* of the melody's tones */
    uint32_t end;
    muta_cadence cadence;
    char letter;    /* which phrases are alike */
    uint8_t primes; /* a' is a varied a */
    bool is_answer; /* closes what the phrase before left open */
} muta_phrase;

/* How a motif is said. */
typedef enum {
    MUTA_MOTIF_SAME,
    MUTA_MOTIF_INVERTED,
    MUTA_MOTIF_RETROGRADE,
    MUTA_MOTIF_RETROGRADE_INVERTED,
    MUTA_MOTIF_AUGMENTED,
    MUTA_MOTIF_DIMINISHED,
    MUTA_MOTIF_FORMS,                         /* that differ in steps or values */
    MUTA_MOTIF_TRANSPOSED = MUTA_MOTIF_FORMS, /* by steps of the key */
} muta_motif_form;

/* The names of the forms, in JSON and on the page. */
extern const char *const muta_motif_names[];

/* Where a motif is said. */
typedef struct muta_motif_place {
    uint32_t first; /* of the melody's tones */
    muta_motif_form form;
} muta_motif_place;

/* A pattern that comes back; its places are in order of time, and do not overlap. */
typedef struct muta_motif {
    uint32_t first; /* of the melody's tones */
    uint32_t count;
    MUTA_VEC(muta_motif_place) places;
} muta_motif;

/* Two bars of three beats in which the tune beats three times two. */
typedef struct muta_hemiola {
    int64_t from;
    int64_t to;
} muta_hemiola;

/* Why a tone is not of its chord. */
typedef enum {
    MUTA_CHORD_TONE,
    MUTA_PASSING,
    MUTA_NEIGHBOUR,
    MUTA_SUSPENSION,
    MUTA_APPOGGIATURA,
    MUTA_ANTICIPATION,
    MUTA_ESCAPE,
    MUTA_PEDAL,
    MUTA_FREE,
} muta_nonchord;

typedef enum {
    MUTA_CONTOUR_LEVEL,
    MUTA_CONTOUR_RISING,
    MUTA_CONTOUR_FALLING,
    MUTA_CONTOUR_ARCH,
    MUTA_CONTOUR_VALLEY,
} muta_contour;

typedef struct muta_profile {
    int64_t notes;
    int64_t steps; /* of the intervals, those of a second */
    int64_t leaps; /* larger than a third */
    int64_t intervals;
    int64_t semitones;  /* all intervals together */
    int64_t syncopated; /* tones held over a stronger moment */
    int64_t chromatic;  /* ticks outside the key */
    int64_t sounding;   /* ticks */
    int32_t low;
    int32_t high;
    int64_t middle; /* semitones by ticks, for the mean */
    muta_contour contour;
} muta_profile;

struct muta_study {
    muta_arena arena;
    const muta_score *score;
    muta_passage *passage;
    muta_heard heard;
    int32_t *signatures; /* by bar of `heard` */
    muta_heard_chords chords;
    const char **symbols; /* by chord: the kind that is written, or NULL where it was heard */
    MUTA_VEC(muta_heard_key) keys;
    muta_leads tune_leads;
    muta_leads bass_leads;
    MUTA_VEC(muta_companion) companions; /* of the tune, stretch by stretch of it */
    muta_melody tune;
    muta_melody bass;
    MUTA_VEC(muta_phrase) phrases;
    MUTA_VEC(muta_hemiola) hemiolas;
    MUTA_VEC(muta_motif) motifs; /* the best first */
    uint8_t *nonchords;          /* by tone of `heard`, a muta_nonchord */
    uint8_t *depths;             /* by tone of the tune: how far the reduction keeps it, from 0 */
    muta_profile profile;
};

/* Each fills its own rows; what stands above a file's turn is there. */
muta_status muta_tune_find(muta_study *study, const muta_study_request *request,
                           muta_diags *diags) MUTA_CHECK;
/* Which lines go with the tune, where. */
muta_status muta_companions_find(muta_study *study) MUTA_CHECK;
/* The first stretch of the line that has the tune longest; NULL when nothing sounds. */
const muta_lead *muta_tune_longest(const muta_study *study);
muta_status muta_symbols_take(muta_study *study) MUTA_CHECK;
muta_status muta_keys_find(muta_study *study) MUTA_CHECK;
muta_status muta_nonchords_find(muta_study *study) MUTA_CHECK;
/*
 * The bars of the score, `from` up to `to`, that hold the best motif of a line that has the tune;
 * where none has three tones they stay as they were given.
 */
void muta_motif_find(const muta_study *study, uint32_t line, uint32_t *from, uint32_t *to);
muta_status muta_phrases_find(muta_study *study) MUTA_CHECK;
muta_status muta_skeleton_find(muta_study *study) MUTA_CHECK;
/* How far a reduction keeps each of a melody's tones, which are tones of `heard`. */
void muta_skeleton_of(const muta_study *study, const uint32_t *tones, size_t count,
                      uint8_t *depths);
muta_status muta_hemiolas_find(muta_study *study) MUTA_CHECK;
muta_status muta_motifs_find(muta_study *study) MUTA_CHECK;
/* Of the tune's tones [first, end). */
muta_profile muta_profile_of(const muta_study *study, size_t first, size_t end);

/* Where in the score a tick lies; the end of a bar is the start of the next. */
muta_moment muta_look_moment(const muta_study *study, int64_t at);
/* The nth tone of the tune. */
const muta_heard_tone *muta_look_tone(const muta_study *study, size_t nth);
/* The chord in force at a moment; NULL when none is. */
const muta_heard_chord *muta_look_chord(const muta_study *study, int64_t at);
const muta_heard_key *muta_look_key(const muta_study *study, int64_t at);
/* The key that the whole is in. */
const muta_heard_key *muta_look_home(const muta_study *study);
/* `V65/ii`: a chord as its key has it. @param room bytes at `text`, at least 24 */
const char *muta_numeral_print(const muta_chord *chord, int32_t tonic_fifths, bool is_minor,
                               char *text, size_t room);
/* Writes a chord's degree in its key as it is now. */
void muta_numeral_set(muta_passage_chord *chord);
/* The address of a stretch of a line. */
const char *muta_lead_print(const muta_study *study, const muta_lead *lead, char *text,
                            size_t room);
/* The same, resolved. */
muta_range muta_lead_range(const muta_study *study, const muta_lead *lead);
extern const char *const muta_cadence_names[];
extern const char *const muta_nonchord_names[];
extern const char *const muta_contour_names[];

#endif
