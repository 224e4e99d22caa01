/* note_form.h: a note's node given another value, place and company; the rest of it stays. */
#ifndef MUSICXML_NOTE_FORM_H
#define MUSICXML_NOTE_FORM_H

#include "musicxml/build.h"
#include "notate/written.h"

/* What is written of one tone by one item. */
typedef struct muta_note_form {
    const muta_item *item;  /* its value; NULL for a grace note, which keeps its own */
    muta_fraction duration; /* in divisions */
    muta_pitch pitch;       /* as written */
    bool has_pitch;         /* false: the one that its node says stays */
    bool is_chord;
    bool begins; /* the attack is here; else the marks of the attack are taken off */
    bool ends;
    bool tie_start;
    bool tie_stop;
    bool is_tremolo; /* half of a tremolo of two notes: it shows the value of both */
    bool is_inverted;
    bool is_mirrored;
    int8_t stem;       /* 1 up, -1 down; 0 leaves it */
    uint8_t grace;     /* it is made a grace note that a pass put in: a muta_grace */
    uint8_t graces;    /* how many of these stand together, */
    uint8_t nth_grace; /* and which of them it is, from 0 */
    bool is_drawn_out; /* several notes have its syllable */
    bool drops_sign;   /* its ornament is written out */
    bool keeps_spans;  /* slurs and the like stay: the note is where it was */
    muta_string voice; /* its label; 0: none is written */
    uint8_t staff;     /* 0: none is written */
    muta_node words;   /* the note whose lyrics it bears; 0: none */
} muta_note_form;

/* Rewrites the node. */
muta_status muta_note_form_apply(muta_tree *tree, muta_node note,
                                 const muta_note_form *form) MUTA_CHECK;
/* A note to be formed, laid out like the node `like`. @param instrument  its id, or NULL */
muta_status muta_note_form_new(muta_tree *tree, muta_node like, const char *instrument,
                               muta_node *note) MUTA_CHECK;
/* A rest, or a hidden one, laid out like the node `like`. */
muta_status muta_note_form_rest(muta_tree *tree, muta_node like, const muta_item *item,
                                muta_fraction duration, muta_string voice, uint8_t staff,
                                bool is_hidden, muta_node *rest) MUTA_CHECK;
/* The first `notations` of a note, put in where there are none. */
muta_status muta_note_form_notations(muta_tree *tree, muta_node note,
                                     muta_node *notations) MUTA_CHECK;
/* Adds the marks for the end, or all marks, that one note bears to another. */
muta_status muta_note_form_marks(muta_tree *tree, muta_node from, bool begins,
                                 muta_node to) MUTA_CHECK;
/* Only the beams, of a note that keeps its value. */
muta_status muta_note_form_beams(muta_tree *tree, muta_node note, const muta_item *item) MUTA_CHECK;
/* A backup or forward. */
muta_status muta_note_form_move(muta_tree *tree, muta_node like, bool forward,
                                muta_fraction duration, muta_string voice, uint8_t staff,
                                muta_node *move) MUTA_CHECK;
/* A deep copy that hangs nowhere; ids, which must be unique, are not copied. */
muta_status muta_note_form_copy(muta_tree *tree, muta_node node, muta_node *copy) MUTA_CHECK;

#endif
