/* instrument.h: what a part is played on, as far as its name tells. Source: shared/instruments.txt.
 */
#ifndef THEORY_INSTRUMENT_H
#define THEORY_INSTRUMENT_H

#include "mutanza/pitch.h"
#include "theory/table.h"

typedef struct muta_instrument {
    muta_text name;
    muta_text family;
    muta_pitch low; /* as they sound */
    muta_pitch high;
    muta_text clefs; /* that its players read, as `F, C4, G` */
} muta_instrument;

/* What a file says of what a part is played on. */
typedef struct muta_instrument_clues {
    const char *sound; /* of MusicXML's standard sounds, as `strings.violin`; NULL: not said */
    int64_t program;   /* of General MIDI, from 1; 0: not said */
    const char *name;  /* of the part */
} muta_instrument_clues;

/*
 * The instrument that a part is played on: by its sound, then its program, then its name, the
 * longest that it holds. Of one family the name is the more exact; and the first program is what
 * programs write where nobody chose, so the name goes before it. False when none is known.
 */
bool muta_instrument_find(const muta_instrument_clues *clues, muta_instrument *instrument);

/* A playing technique. Source: shared/techniques.txt. */
typedef struct muta_technique {
    muta_text name;
    muta_text families;
    muta_text form;  /* words, technical, tremolo */
    muta_text mark;  /* at each note */
    muta_text words; /* that begin it */
    muta_text sound; /* `pizzicato=yes`; empty: none */
    muta_text end_words;
    muta_text end_sound;
} muta_technique;

/* The technique of this name, or, without one, the first of a family; false when there is none. */
bool muta_technique_find(muta_text name, muta_text family, muta_technique *technique);
/* Whether instruments of a family have the technique. */
bool muta_technique_suits(const muta_technique *technique, muta_text family);

#endif
