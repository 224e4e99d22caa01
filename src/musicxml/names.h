/*
 * names.h: each element and attribute name that this program knows, once. Their ids in a tree are
 * the constants N_...; names that a document adds come behind them.
 */
#ifndef MUSICXML_NAMES_H
#define MUSICXML_NAMES_H

#include "base/tree.h"

#define MUTA_NAMES(X)                                                                              \
    X(ACCIDENTAL, "accidental")                                                                    \
    X(ACCIDENTAL_MARK, "accidental-mark")                                                          \
    X(ACTUAL_NOTES, "actual-notes")                                                                \
    X(ALTER, "alter")                                                                              \
    X(ATTRIBUTES, "attributes")                                                                    \
    X(BACKUP, "backup")                                                                            \
    X(BARLINE, "barline")                                                                          \
    X(BASS, "bass")                                                                                \
    X(BASS_ALTER, "bass-alter")                                                                    \
    X(BASS_STEP, "bass-step")                                                                      \
    X(BEAM, "beam")                                                                                \
    X(BEATS, "beats")                                                                              \
    X(BEAT_TYPE, "beat-type")                                                                      \
    X(BEZIER_Y, "bezier-y")                                                                        \
    X(BRACKET, "bracket")                                                                          \
    X(CANCEL, "cancel")                                                                            \
    X(CAUTIONARY, "cautionary")                                                                    \
    X(CHORD, "chord")                                                                              \
    X(CHROMATIC, "chromatic")                                                                      \
    X(CLEF, "clef")                                                                                \
    X(CLEF_OCTAVE_CHANGE, "clef-octave-change")                                                    \
    X(CUE, "cue")                                                                                  \
    X(DEFAULT_Y, "default-y")                                                                      \
    X(DIATONIC, "diatonic")                                                                        \
    X(DISPLAY_OCTAVE, "display-octave")                                                            \
    X(DISPLAY_STEP, "display-step")                                                                \
    X(DIVISIONS, "divisions")                                                                      \
    X(DOT, "dot")                                                                                  \
    X(DURATION, "duration")                                                                        \
    X(EDITORIAL, "editorial")                                                                      \
    X(ENCODING, "encoding")                                                                        \
    X(FIFTHS, "fifths")                                                                            \
    X(FIGURE_NUMBER, "figure-number")                                                              \
    X(FIGURED_BASS, "figured-bass")                                                                \
    X(FINGERING, "fingering")                                                                      \
    X(FOOTNOTE, "footnote")                                                                        \
    X(FORWARD, "forward")                                                                          \
    X(FRAME, "frame")                                                                              \
    X(FRET, "fret")                                                                                \
    X(FULL_PATH, "full-path")                                                                      \
    X(GRACE, "grace")                                                                              \
    X(HARMONY, "harmony")                                                                          \
    X(ID, "id")                                                                                    \
    X(IDENTIFICATION, "identification")                                                            \
    X(IMPLICIT, "implicit")                                                                        \
    X(INSTRUMENT, "instrument")                                                                    \
    X(KEY, "key")                                                                                  \
    X(KEY_ACCIDENTAL, "key-accidental")                                                            \
    X(KEY_ALTER, "key-alter")                                                                      \
    X(KEY_STEP, "key-step")                                                                        \
    X(KIND, "kind")                                                                                \
    X(LEVEL, "level")                                                                              \
    X(LINE, "line")                                                                                \
    X(LOCATION, "location")                                                                        \
    X(LYRIC, "lyric")                                                                              \
    X(MEASURE, "measure")                                                                          \
    X(MIDI_INSTRUMENT, "midi-instrument")                                                          \
    X(MIDI_UNPITCHED, "midi-unpitched")                                                            \
    X(MISCELLANEOUS, "miscellaneous")                                                              \
    X(MISCELLANEOUS_FIELD, "miscellaneous-field")                                                  \
    X(MODE, "mode")                                                                                \
    X(MOVEMENT_NUMBER, "movement-number")                                                          \
    X(MOVEMENT_TITLE, "movement-title")                                                            \
    X(NAME, "name")                                                                                \
    X(NON_CONTROLLING, "non-controlling")                                                          \
    X(NORMAL_NOTES, "normal-notes")                                                                \
    X(NOTATIONS, "notations")                                                                      \
    X(NOTE, "note")                                                                                \
    X(NUMBER, "number")                                                                            \
    X(NUMERAL, "numeral")                                                                          \
    X(NUMERAL_FIFTHS, "numeral-fifths")                                                            \
    X(NUMERAL_KEY, "numeral-key")                                                                  \
    X(OCTAVE, "octave")                                                                            \
    X(OCTAVE_CHANGE, "octave-change")                                                              \
    X(OFFSET, "offset")                                                                            \
    X(OPUS, "opus")                                                                                \
    X(ORNAMENTS, "ornaments")                                                                      \
    X(PARENTHESES, "parentheses")                                                                  \
    X(PART, "part")                                                                                \
    X(PART_LIST, "part-list")                                                                      \
    X(PART_NAME, "part-name")                                                                      \
    X(PITCH, "pitch")                                                                              \
    X(PLACEMENT, "placement")                                                                      \
    X(PREFIX, "prefix")                                                                            \
    X(PRINT, "print")                                                                              \
    X(PRINT_OBJECT, "print-object")                                                                \
    X(RELATION, "relation")                                                                        \
    X(RELATIVE_Y, "relative-y")                                                                    \
    X(REST, "rest")                                                                                \
    X(RIGHTS, "rights")                                                                            \
    X(ROOT, "root")                                                                                \
    X(ROOTFILE, "rootfile")                                                                        \
    X(ROOT_ALTER, "root-alter")                                                                    \
    X(ROOT_STEP, "root-step")                                                                      \
    X(SCORE_PART, "score-part")                                                                    \
    X(SCORE_PARTWISE, "score-partwise")                                                            \
    X(SCORE_TIMEWISE, "score-timewise")                                                            \
    X(SENZA_MISURA, "senza-misura")                                                                \
    X(SIGN, "sign")                                                                                \
    X(SLUR, "slur")                                                                                \
    X(SMUFL, "smufl")                                                                              \
    X(SOFTWARE, "software")                                                                        \
    X(SOURCE, "source")                                                                            \
    X(STAFF, "staff")                                                                              \
    X(STAVES, "staves")                                                                            \
    X(STEM, "stem")                                                                                \
    X(STEP, "step")                                                                                \
    X(STRING, "string")                                                                            \
    X(CREATOR, "creator")                                                                          \
    X(SUFFIX, "suffix")                                                                            \
    X(TECHNICAL, "technical")                                                                      \
    X(TEXT, "text")                                                                                \
    X(TIE, "tie")                                                                                  \
    X(TIED, "tied")                                                                                \
    X(TIME, "time")                                                                                \
    X(TIME_MODIFICATION, "time-modification")                                                      \
    X(TRANSPOSE, "transpose")                                                                      \
    X(TYPE, "type")                                                                                \
    X(UNPITCHED, "unpitched")                                                                      \
    X(VERSION, "version")                                                                          \
    X(VOICE, "voice")                                                                              \
    X(WORK, "work")

enum {
    MUTA_NAMES_NONE,
#define X(constant, text) N_##constant,
    MUTA_NAMES(X)
#undef X
    N_COUNT
};

/* Makes an empty tree that knows these names. */
muta_status muta_names_init(muta_tree *tree) MUTA_CHECK;
/* Whether the leaf `node` holds exactly `text`, white space at its ends aside. */
bool muta_names_leaf_is(const muta_tree *tree, muta_node node, const char *text);

#endif
