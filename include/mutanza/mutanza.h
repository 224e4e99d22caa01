/** mutanza.h: everything a program needs that varies scores. */
#ifndef MUTANZA_MUTANZA_H
#define MUTANZA_MUTANZA_H

#include "mutanza/chord.h"
#include "mutanza/diag.h"
#include "mutanza/fraction.h"
#include "mutanza/limits.h"
#include "mutanza/pass.h"
#include "mutanza/passage.h"
#include "mutanza/pitch.h"
#include "mutanza/schema.h"
#include "mutanza/score.h"
#include "mutanza/status.h"
#include "mutanza/study.h"

#endif
