/* random.c: chance that is the same on every machine. */
#include "base/random.h"

static uint64_t mix(uint64_t number)
{
    number = (number ^ number >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    number = (number ^ number >> 27) * UINT64_C(0x94d049bb133111eb);
    return number ^ number >> 31;
}

uint64_t muta_random(uint64_t seed, uint64_t place)
{
    return mix(mix(seed + UINT64_C(0x9e3779b97f4a7c15)) + place * UINT64_C(0x9e3779b97f4a7c15));
}
