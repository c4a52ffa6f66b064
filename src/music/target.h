// What a landing is held against, as a player chooses it or a drill asks for it. Plain values, any thread.
#pragma once

#include <array>

namespace landfall {

// Just: of several strings each against another one of them (Targets); of one string as concert.
enum class Target { concert, startNote, ownGuitar, just };

inline constexpr std::array targetNames{"concert", "start note", "own guitar", "just"};

}  // namespace landfall
