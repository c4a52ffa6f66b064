// Which phrase to play next, and why: the one whose bends need it most by the map of the neck. Plain function, any
// thread.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "src/music/line.h"
#include "src/review/reviewed_try.h"

namespace landfall {

struct NextPhrase {
    std::size_t line = 0;  // which of them
    std::string reason{};  // one sentence, of the bend in it that needs it most
};

// As nextPlace. Of `lines` those are left out that the guitar cannot play, that care does not allow, and in which a kind
// of move stands that has hardly been played yet. Empty: none is left.
std::optional<NextPhrase> nextPhrase(std::span<const ReviewedTry> tries, const Guitar& guitar,
                                     std::span<const Line> lines, int today, bool easyOnly = false);

}  // namespace landfall
