/* random.h: chance that is the same on every machine. */
#ifndef BASE_RANDOM_H
#define BASE_RANDOM_H

#include <stdint.h>

/*
 * The number that a seed gives for a place; neighbours of either are not alike.
 * Source: the finalizer of SplitMix64, G. Steele, D. Lea, C. Flood, Fast splittable pseudorandom
 * number generators (2014).
 */
uint64_t muta_random(uint64_t seed, uint64_t place);

#endif
