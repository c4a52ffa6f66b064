// The string check as a screen: prompt, advice, an offer to be answered, and each string's reading. One thread, the
// trainer's.
#pragma once

#include "gui/intent.h"
#include "gui/snapshot.h"
#include "src/app/screens/wish.h"
#include "src/practice/string_check.h"

namespace landfall {

class StringsScreen {
public:
    explicit StringsScreen(const Guitar& guitar);

    // Begins anew.
    void begin(const Guitar& guitar);
    void hear(const HeldNote& note);
    // At its end, or where it is left, practice is to be opened.
    Wish act(const Intent& intent);

    const Strings& view() const { return shown; }
    const Guitar& guitar() const { return check.guitar(); }
    int asked() const { return check.asked(); }  // string number, 0 = done: for the simulated player
    bool done() const { return check.done(); }

private:
    void refresh();

    StringCheck check;
    Strings shown;
};

}  // namespace landfall
