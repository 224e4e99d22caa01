/* corpus.h: the real scores that the tests run over, where they are there. */
#ifndef SUPPORT_CORPUS_H
#define SUPPORT_CORPUS_H

#include "musicxml/build.h"
#include "mutanza/mutanza.h"

#define CORPUS_HASH UINT64_C(1469598103934665603)

typedef struct corpus {
    char **paths; /* sorted */
    size_t count;
    size_t missing; /* folders that are not there, and were skipped */
} corpus;

/*
 * All scores below the folders in MUTA_CORPUS (parted by colons). Unless `all`, a fixed tenth of
 * them by the hash of their names, and every file of the suite.
 */
corpus corpus_find(bool all);
void corpus_free(corpus *found);
/* Calls `run` with the path of each file of a folder. */
void corpus_each(const char *folder, void (*run)(const char *path));
/* The last part of a path. */
const char *corpus_name(const char *path);
/* The bytes of a file; NULL when it cannot be read. */
char *corpus_bytes(const char *path, size_t *length);
/* The same of a file in a folder. */
char *corpus_file(const char *folder, const char *name);
/* A text taken into a hash, FNV-1a of 64 bits, which begins with CORPUS_HASH. */
uint64_t corpus_hash(uint64_t hash, const char *text);
/* The XML of a file, inflated when it is a container. */
char *corpus_xml(const char *path, size_t *length);
/* Takes the bars behind the first `bars` out of each part of a partwise score. */
void corpus_cut(char *xml, size_t *length, size_t bars);
/* The XML of a score with the bars of each part so many times. Ended with free(). */
char *corpus_grown(const char *xml, size_t length, size_t times);
/* A number from 0 to `below` - 1, the same for the same seed. */
uint64_t corpus_random(uint64_t *seed, uint64_t below);

#endif
