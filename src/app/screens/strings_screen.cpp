#include "src/app/screens/strings_screen.h"

namespace landfall {

StringsScreen::StringsScreen(const Guitar& guitar) : check(guitar) { refresh(); }

void StringsScreen::begin(const Guitar& guitar) {
    check = StringCheck(guitar);
    refresh();
}

void StringsScreen::hear(const HeldNote& note) {
    check.hear(note);
    refresh();
}

Wish StringsScreen::act(const Intent& intent) {
    Wish wish;
    const bool yes = intent.kind == Intent::Kind::choose, no = intent.kind == Intent::Kind::decline;
    if (check.offer()) {
        if (yes) {
            check.acceptOffer();
            wish.guitar = check.guitar();
        } else if (no) {
            check.declineOffer();
        }
    } else if (yes || (no && check.done())) {
        wish.open = Screen::practice;
    } else if (no) {
        check.skip();
    }
    refresh();
    return wish;
}

void StringsScreen::refresh() {
    shown.prompt = check.offer() ? check.offer()->brief : check.prompt();
    shown.message = check.message();
    shown.question = check.offer() ? check.offer()->question : "";
    shown.asked = check.asked();
    shown.readings.clear();
    int string = 0;
    for (const StringCheck::Reading& reading : check.readings())
        shown.readings.push_back({stringName(check.guitar(), ++string), reading.offset, reading.skipped});
}

}  // namespace landfall
