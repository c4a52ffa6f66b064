// Going on without a key, where the settings say so: a page that is done goes on after a while, or at two muted strokes.
// Pure logic, any clock that only goes forwards. One thread, the trainer's.
#pragma once

#include <optional>
#include <string>

#include "gui/intent.h"
#include "gui/snapshot.h"
#include "src/formats/settings_file.h"

namespace landfall {

class GoingOn {
public:
    // What is shown now, and how many pairs of muted strokes were heard so far. What the player would have asked for.
    std::optional<Intent> look(const Snapshot& shown, GoOn how, unsigned pairs, Seconds now);
    // A key was pressed: the wait begins anew.
    void touched() { page.reset(); }
    // What goes on here, for the line of keys: "a moment", "two muted strokes"; else empty.
    static std::string words(const Snapshot& shown, GoOn how);

private:
    std::optional<int> page;
    Seconds since;
    unsigned pairsBefore = 0;
};

}  // namespace landfall
