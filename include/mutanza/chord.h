/** chord.h: a chord as a musician names it. */
#ifndef MUTANZA_CHORD_H
#define MUTANZA_CHORD_H

#include "mutanza/pitch.h"

#ifdef __cplusplus
extern "C" {
#endif

/** What a chord is made of. Source of names and contents: MusicXML 4.0, kind-value. */
typedef enum {
    MUTA_CHORD_MAJOR,
    MUTA_CHORD_MINOR,
    MUTA_CHORD_DOMINANT,
    MUTA_CHORD_DIMINISHED,
    MUTA_CHORD_DIMINISHED_SEVENTH,
    MUTA_CHORD_HALF_DIMINISHED,
    MUTA_CHORD_MINOR_SEVENTH,
    MUTA_CHORD_MAJOR_SEVENTH,
    MUTA_CHORD_AUGMENTED,
    MUTA_CHORD_ITALIAN,
    MUTA_CHORD_GERMAN,
    MUTA_CHORD_FRENCH,
    /* These are written, and not heard: */
    MUTA_CHORD_MAJOR_SIXTH,
    MUTA_CHORD_MINOR_SIXTH,
    MUTA_CHORD_SUSPENDED_SECOND,
    MUTA_CHORD_SUSPENDED_FOURTH,
    MUTA_CHORD_MAJOR_MINOR,
    MUTA_CHORD_AUGMENTED_SEVENTH,
    MUTA_CHORD_DOMINANT_NINTH,
    MUTA_CHORD_MAJOR_NINTH,
    MUTA_CHORD_MINOR_NINTH,
    MUTA_CHORD_DOMINANT_13TH,
} muta_chord_kind;

/** A chord without its time: the same for what is heard, written, chosen and voiced. */
typedef struct muta_chord {
    int32_t root;         /**< on the line of fifths, C is 0, G 1, F -1 */
    muta_chord_kind kind; /**< what stands above it */
    uint8_t bass;         /**< which of its tones is lowest: 0 the root, 1 the third, and so on */
} muta_chord;

/** Whether two chords are one: root, kind and bass. */
MUTA_API bool muta_chord_is_equal(muta_chord a, muta_chord b);
/** The name that MusicXML gives a kind, as `major-seventh`. Borrows: nothing. */
MUTA_API const char *muta_chord_kind_name(muta_chord_kind kind);

#ifdef __cplusplus
}
#endif

#endif
