// What a player says by ear of a try, before being told. Plain functions, any thread.
#pragma once

#include <optional>
#include <string>

#include "src/practice/landing.h"
#include "src/practice/words.h"

namespace landfall {

enum class Guess { under, on, over };

// Of a try that landed: on is what the aim calls good. Empty: there is nothing to guess.
std::optional<Guess> truthOf(const Landing& landing, Cents aim);
// "Right" or "No, that was over", and with the number "Right: 22 under.". Precondition: truthOf has an answer.
Words guessWords(Guess guess, const Landing& landing, Cents aim);

}  // namespace landfall
