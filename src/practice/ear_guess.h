// What a player says by ear of a try, before being told. Plain functions, any thread.
#pragma once

#include <optional>
#include <string>

#include "src/practice/landing.h"

namespace landfall {

enum class Guess { under, on, over };

// Of a try that landed: on is what the aim calls good. Empty: there is nothing to guess.
std::optional<Guess> truthOf(const Landing& landing, Cents aim);
// "Right: 22 under." or "It was 7 over." Precondition: truthOf has an answer.
std::string guessWords(Guess guess, const Landing& landing, Cents aim);

}  // namespace landfall
