/*
 * names.h: each element and attribute name that this program knows, once. Their ids in a tree are
 * the constants N_...; names that a document adds come behind them.
 */
#ifndef MUSICXML_NAMES_H
#define MUSICXML_NAMES_H

#include "base/tree.h"

#define MUTA_NAMES(X)                                                                              \
    X(ACCENT, "accent")                                                                            \
    X(ACCIDENTAL, "accidental")                                                                    \
    X(ACCIDENTAL_MARK, "accidental-mark")                                                          \
    X(ACTUAL_NOTES, "actual-notes")                                                                \
    X(ALTER, "alter")                                                                              \
    X(ARPEGGIATE, "arpeggiate")                                                                    \
    X(ARTICULATIONS, "articulations")                                                              \
    X(ATTACK, "attack")                                                                            \
    X(ATTRIBUTES, "attributes")                                                                    \
    X(BACKUP, "backup")                                                                            \
    X(BAR_STYLE, "bar-style")                                                                      \
    X(BARLINE, "barline")                                                                          \
    X(BASS, "bass")                                                                                \
    X(BASS_ALTER, "bass-alter")                                                                    \
    X(BASS_STEP, "bass-step")                                                                      \
    X(BEAM, "beam")                                                                                \
    X(BEAT_REPEAT, "beat-repeat")                                                                  \
    X(BEAT_TYPE, "beat-type")                                                                      \
    X(BEATS, "beats")                                                                              \
    X(BEZIER_OFFSET, "bezier-offset")                                                              \
    X(BEZIER_OFFSET2, "bezier-offset2")                                                            \
    X(BEZIER_X, "bezier-x")                                                                        \
    X(BEZIER_Y, "bezier-y")                                                                        \
    X(BOOKMARK, "bookmark")                                                                        \
    X(BRACKET, "bracket")                                                                          \
    X(BREATH_MARK, "breath-mark")                                                                  \
    X(CAESURA, "caesura")                                                                          \
    X(CANCEL, "cancel")                                                                            \
    X(CAUTIONARY, "cautionary")                                                                    \
    X(CHORD, "chord")                                                                              \
    X(CHROMATIC, "chromatic")                                                                      \
    X(CLEF, "clef")                                                                                \
    X(CLEF_OCTAVE_CHANGE, "clef-octave-change")                                                    \
    X(CODA, "coda")                                                                                \
    X(CREATOR, "creator")                                                                          \
    X(CUE, "cue")                                                                                  \
    X(DACAPO, "dacapo")                                                                            \
    X(DALSEGNO, "dalsegno")                                                                        \
    X(DAMPER_PEDAL, "damper-pedal")                                                                \
    X(DASHES, "dashes")                                                                            \
    X(DEFAULT_X, "default-x")                                                                      \
    X(DEFAULT_Y, "default-y")                                                                      \
    X(DEGREE, "degree")                                                                            \
    X(DELAYED_TURN, "delayed-turn")                                                                \
    X(DIATONIC, "diatonic")                                                                        \
    X(DIRECTION, "direction")                                                                      \
    X(DIRECTION_TYPE, "direction-type")                                                            \
    X(DISPLAY_OCTAVE, "display-octave")                                                            \
    X(DISPLAY_STEP, "display-step")                                                                \
    X(DIVISIONS, "divisions")                                                                      \
    X(DOIT, "doit")                                                                                \
    X(DOT, "dot")                                                                                  \
    X(DURATION, "duration")                                                                        \
    X(DYNAMICS, "dynamics")                                                                        \
    X(EDITORIAL, "editorial")                                                                      \
    X(ELEMENT, "element")                                                                          \
    X(ELISION, "elision")                                                                          \
    X(ENCODING, "encoding")                                                                        \
    X(END, "end")                                                                                  \
    X(ENDING, "ending")                                                                            \
    X(EXTEND, "extend")                                                                            \
    X(FALLOFF, "falloff")                                                                          \
    X(FERMATA, "fermata")                                                                          \
    X(FIFTHS, "fifths")                                                                            \
    X(FIGURE_NUMBER, "figure-number")                                                              \
    X(FIGURED_BASS, "figured-bass")                                                                \
    X(FINE, "fine")                                                                                \
    X(FINGERING, "fingering")                                                                      \
    X(FONT_WEIGHT, "font-weight")                                                                  \
    X(FOOTNOTE, "footnote")                                                                        \
    X(FORWARD, "forward")                                                                          \
    X(FRAME, "frame")                                                                              \
    X(FRET, "fret")                                                                                \
    X(FULL_PATH, "full-path")                                                                      \
    X(FUNCTION, "function")                                                                        \
    X(GLISSANDO, "glissando")                                                                      \
    X(GRACE, "grace")                                                                              \
    X(HARMONY, "harmony")                                                                          \
    X(ID, "id")                                                                                    \
    X(IDENTIFICATION, "identification")                                                            \
    X(IMPLICIT, "implicit")                                                                        \
    X(INSTRUMENT, "instrument")                                                                    \
    X(INSTRUMENTS, "instruments")                                                                  \
    X(INSTRUMENT_NAME, "instrument-name")                                                          \
    X(INSTRUMENT_SOUND, "instrument-sound")                                                        \
    X(INVERSION, "inversion")                                                                      \
    X(INVERTED_MORDENT, "inverted-mordent")                                                        \
    X(INVERTED_TURN, "inverted-turn")                                                              \
    X(KEY, "key")                                                                                  \
    X(KEY_ACCIDENTAL, "key-accidental")                                                            \
    X(KEY_ALTER, "key-alter")                                                                      \
    X(KEY_STEP, "key-step")                                                                        \
    X(KIND, "kind")                                                                                \
    X(LEVEL, "level")                                                                              \
    X(LINE, "line")                                                                                \
    X(LISTEN, "listen")                                                                            \
    X(LOCATION, "location")                                                                        \
    X(LYRIC, "lyric")                                                                              \
    X(MAKE_TIME, "make-time")                                                                      \
    X(MEASURE, "measure")                                                                          \
    X(MEASURE_REPEAT, "measure-repeat")                                                            \
    X(MEASURE_STYLE, "measure-style")                                                              \
    X(METRONOME, "metronome")                                                                      \
    X(MIDI_CHANNEL, "midi-channel")                                                                \
    X(MIDI_DEVICE, "midi-device")                                                                  \
    X(MIDI_INSTRUMENT, "midi-instrument")                                                          \
    X(MIDI_PROGRAM, "midi-program")                                                                \
    X(MIDI_UNPITCHED, "midi-unpitched")                                                            \
    X(MISCELLANEOUS, "miscellaneous")                                                              \
    X(MISCELLANEOUS_FIELD, "miscellaneous-field")                                                  \
    X(MODE, "mode")                                                                                \
    X(MORDENT, "mordent")                                                                          \
    X(MOVEMENT_NUMBER, "movement-number")                                                          \
    X(MOVEMENT_TITLE, "movement-title")                                                            \
    X(MULTIPLE_REST, "multiple-rest")                                                              \
    X(MUTE, "mute")                                                                                \
    X(NAME, "name")                                                                                \
    X(NEW_PAGE, "new-page")                                                                        \
    X(NEW_SYSTEM, "new-system")                                                                    \
    X(NON_CONTROLLING, "non-controlling")                                                          \
    X(NORMAL_DOT, "normal-dot")                                                                    \
    X(NORMAL_NOTES, "normal-notes")                                                                \
    X(NORMAL_TYPE, "normal-type")                                                                  \
    X(NOTATIONS, "notations")                                                                      \
    X(NOTE, "note")                                                                                \
    X(NOTEHEAD, "notehead")                                                                        \
    X(NOTEHEAD_TEXT, "notehead-text")                                                              \
    X(NUMBER, "number")                                                                            \
    X(NUMERAL, "numeral")                                                                          \
    X(NUMERAL_FIFTHS, "numeral-fifths")                                                            \
    X(NUMERAL_KEY, "numeral-key")                                                                  \
    X(OCTAVE, "octave")                                                                            \
    X(OCTAVE_CHANGE, "octave-change")                                                              \
    X(OCTAVE_SHIFT, "octave-shift")                                                                \
    X(OFFSET, "offset")                                                                            \
    X(OPUS, "opus")                                                                                \
    X(ORNAMENTS, "ornaments")                                                                      \
    X(OTHER_PLAY, "other-play")                                                                    \
    X(PARENTHESES, "parentheses")                                                                  \
    X(PART, "part")                                                                                \
    X(PART_ABBREVIATION, "part-abbreviation")                                                      \
    X(PART_GROUP, "part-group")                                                                    \
    X(PART_LIST, "part-list")                                                                      \
    X(PART_NAME, "part-name")                                                                      \
    X(PART_NAME_DISPLAY, "part-name-display")                                                      \
    X(PART_SYMBOL, "part-symbol")                                                                  \
    X(PEDAL, "pedal")                                                                              \
    X(PER_MINUTE, "per-minute")                                                                    \
    X(PITCH, "pitch")                                                                              \
    X(PIZZICATO, "pizzicato")                                                                      \
    X(PLACEMENT, "placement")                                                                      \
    X(PLAY, "play")                                                                                \
    X(PLOP, "plop")                                                                                \
    X(PREFIX, "prefix")                                                                            \
    X(PRINT, "print")                                                                              \
    X(PRINT_OBJECT, "print-object")                                                                \
    X(REHEARSAL, "rehearsal")                                                                      \
    X(RELATION, "relation")                                                                        \
    X(RELATIVE_X, "relative-x")                                                                    \
    X(RELATIVE_Y, "relative-y")                                                                    \
    X(RELEASE, "release")                                                                          \
    X(REPEAT, "repeat")                                                                            \
    X(REST, "rest")                                                                                \
    X(RIGHTS, "rights")                                                                            \
    X(ROOT, "root")                                                                                \
    X(ROOT_ALTER, "root-alter")                                                                    \
    X(ROOT_STEP, "root-step")                                                                      \
    X(ROOTFILE, "rootfile")                                                                        \
    X(SCHLEIFER, "schleifer")                                                                      \
    X(SCOOP, "scoop")                                                                              \
    X(SCORE_INSTRUMENT, "score-instrument")                                                        \
    X(SCORE_PART, "score-part")                                                                    \
    X(SCORE_PARTWISE, "score-partwise")                                                            \
    X(SCORE_TIMEWISE, "score-timewise")                                                            \
    X(SEGNO, "segno")                                                                              \
    X(SENZA_MISURA, "senza-misura")                                                                \
    X(SIGN, "sign")                                                                                \
    X(SLASH, "slash")                                                                              \
    X(SLIDE, "slide")                                                                              \
    X(SLUR, "slur")                                                                                \
    X(SMUFL, "smufl")                                                                              \
    X(SOFT_PEDAL, "soft-pedal")                                                                    \
    X(SOFTWARE, "software")                                                                        \
    X(SOUND, "sound")                                                                              \
    X(SOURCE, "source")                                                                            \
    X(STACCATO, "staccato")                                                                        \
    X(STAFF, "staff")                                                                              \
    X(STAFF_DETAILS, "staff-details")                                                              \
    X(STAVES, "staves")                                                                            \
    X(STEM, "stem")                                                                                \
    X(STEP, "step")                                                                                \
    X(STRING, "string")                                                                            \
    X(STRING_MUTE, "string-mute")                                                                  \
    X(STRONG_ACCENT, "strong-accent")                                                              \
    X(SUFFIX, "suffix")                                                                            \
    X(SUPPORTS, "supports")                                                                        \
    X(SYLLABIC, "syllabic")                                                                        \
    X(SYSTEM_LAYOUT, "system-layout")                                                              \
    X(TECHNICAL, "technical")                                                                      \
    X(TEMPO, "tempo")                                                                              \
    X(TEXT, "text")                                                                                \
    X(TIE, "tie")                                                                                  \
    X(TIED, "tied")                                                                                \
    X(TIME, "time")                                                                                \
    X(TIME_MODIFICATION, "time-modification")                                                      \
    X(TOCODA, "tocoda")                                                                            \
    X(TRANSPOSE, "transpose")                                                                      \
    X(TREMOLO, "tremolo")                                                                          \
    X(TRILL_MARK, "trill-mark")                                                                    \
    X(TUPLET, "tuplet")                                                                            \
    X(TUPLET_ACTUAL, "tuplet-actual")                                                              \
    X(TUPLET_NORMAL, "tuplet-normal")                                                              \
    X(TUPLET_NUMBER, "tuplet-number")                                                              \
    X(TUPLET_TYPE, "tuplet-type")                                                                  \
    X(TURN, "turn")                                                                                \
    X(TYPE, "type")                                                                                \
    X(UNPITCHED, "unpitched")                                                                      \
    X(VERSION, "version")                                                                          \
    X(VOICE, "voice")                                                                              \
    X(WAVY_LINE, "wavy-line")                                                                      \
    X(WEDGE, "wedge")                                                                              \
    X(WIDTH, "width")                                                                              \
    X(WORDS, "words")                                                                              \
    X(WORK, "work")                                                                                \
    X(WORK_TITLE, "work-title")

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
