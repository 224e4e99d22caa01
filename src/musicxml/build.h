/* build.h: from the tree to the score as written; shared by the files that read a bar. */
#ifndef MUSICXML_BUILD_H
#define MUSICXML_BUILD_H

#include "musicxml/names.h"
#include "score/model.h"

/* A moment of the bar at which rounded durations have led away from the exact time. */
typedef struct muta_drift {
    muta_fraction raw;
    muta_fraction exact;
} muta_drift;

/* How long a note of a tuplet lasts, by what it says of that. */
typedef struct muta_typed {
    muta_string type; /* 0: none was read yet */
    muta_string actual;
    muta_string normal;
    int dots;
    muta_fraction lasts;
} muta_typed;

/* What a text of a duration comes to under some divisions. */
typedef struct muta_lasting {
    muta_string text;
    muta_fraction divisions;
    muta_fraction quarters;
} muta_lasting;

enum {
    MUTA_LASTINGS = 32
};

/* What is in force while a part is read, in the order of the file. */
typedef struct muta_reading {
    muta_score *score;
    muta_part *part;
    muta_diags *diags;
    muta_node part_node; /* its score-part */
    size_t bar;
    muta_fraction at;  /* the cursor, in quarters from the bar's start */
    muta_fraction raw; /* where rounded durations would have it */
    MUTA_VEC(muta_drift) drifts;
    muta_lasting lastings[MUTA_LASTINGS]; /* of durations read lately, by their texts */
    muta_typed typed;                     /* the last that was read: the next is mostly alike */
    size_t rounded;                       /* how many notes of a rounded tuplet are still to come */
    muta_fraction divisions; /* to the quarter; invalid when they are no number above 0 */
    muta_fraction previous;  /* the onset of the last note that was no chord member */
    muta_fraction note_end;  /* the latest end of a note in this bar */
    muta_fraction cursor_end;
    const muta_metre *metre;
    bool fixed_staff[256]; /* a percussion clef is in force there */
    bool tab_staff[256];
    bool said_divisions;
} muta_reading;

/* Reads the whole tree. */
muta_status muta_build(muta_score *score, muta_diags *diags) MUTA_CHECK;
/* Reads the tree anew after it has changed; what was read from it before is gone. */
muta_status muta_build_again(muta_score *score) MUTA_CHECK;
/* Reads one bar, whose cell is known, into the part. */
muta_status muta_build_bar(muta_reading *reading) MUTA_CHECK;
/* Reads one `attributes` at the cursor. */
muta_status muta_build_attributes(muta_reading *reading, muta_node attributes) MUTA_CHECK;

enum {
    MUTA_DIRECTION_SPANS = 5
};

/* What begins in one direction and ends in another. */
extern const muta_name muta_direction_spans[MUTA_DIRECTION_SPANS];
/* Reads what stands in a bar besides its notes: where it counts, and how it travels. */
muta_status muta_build_thing(muta_reading *reading, muta_node node) MUTA_CHECK;

/* Warns, with the place of the cursor and the line of `node`. */
void muta_build_warn(const muta_reading *reading, muta_node node, const char *text);
/* The number in the leaf `child` of `parent`; false when it is absent or no number. */
bool muta_build_number(const muta_tree *tree, muta_node parent, muta_name child,
                       muta_fraction *number);
/* The same for a whole number that fits 32 bits. */
bool muta_build_integer(const muta_tree *tree, muta_node parent, muta_name child, int32_t *number);
/* A duration in quarters; marks the bar and gives 0 when it is not to be had. */
muta_fraction muta_build_duration(muta_reading *reading, muta_node parent);
/* An alteration in millicents, finer parts cut off; false when it is none, or beyond an octave. */
bool muta_build_alter(const muta_tree *tree, muta_node leaf, int32_t *alter);
/* The pitch that step, alter and octave of these names give; false when one is wrong. */
bool muta_build_pitch(const muta_tree *tree, muta_node parent, muta_name step, muta_name alter,
                      muta_name octave, muta_pitch *pitch);
/* A staff number in an attribute or leaf, 1 to 255; `otherwise` when it is none. */
uint8_t muta_build_staff(muta_text text, uint8_t otherwise);
/* The sign that an `accidental` shows. */
muta_sign muta_build_sign(const muta_tree *tree, muta_node accidental);
/* The name of a sign in `accidental`; NULL for none and other. */
const char *muta_sign_name(muta_sign sign);
/* A step's letter as 0 to 6; -1 when it is none. */
int muta_build_step(muta_text text);

#endif
