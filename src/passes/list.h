/* list.h: the passes, one a line, in the order of the listing. The build takes its files from it.
 */
PASS(transpose)
PASS(invert)
PASS(retrograde)
PASS(rotate)
PASS(widen)
PASS(fragment)
PASS(sequence)
PASS(augment)
PASS(diminish)
PASS(timbre)
