#include "gui/screen_view.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "gui/views.h"

namespace landfall {

using Kind = Intent::Kind;

// beside what they draw
extern const ScreenView practiceView, drillsView, progressView, settingsView, stringsView, startView, todayView,
    studentsView, lessonMakerView;

std::span<const ScreenView* const> screenViews() {
    static constexpr std::array views{&practiceView, &drillsView, &progressView, &settingsView,   &stringsView,
                                      &startView,    &todayView,  &studentsView, &lessonMakerView};
    return views;
}

const ScreenView& viewOf(Screen screen) {
    const auto views = screenViews();
    return **std::find_if(views.begin(), views.end(),
                          [screen](const ScreenView* view) { return view->screen == screen; });
}

Key upAndDown(std::string does) {
    return {"↑ ↓", std::move(does), {{key::up, Kind::previous}, {key::down, Kind::following}}};
}
Key leftAndRight(std::string does) {
    return {"← →", std::move(does), {{key::left, Kind::less}, {key::right, Kind::more}}};
}
Key enter(std::string does) {
    return {keyName(key::enter), std::move(does), {{key::enter, Kind::choose}, {key::space, Kind::choose}}};
}
Key backspace(std::string does) { return press(key::backspace, Kind::decline, std::move(does)); }
Key press(int code, Intent::Kind kind, std::string does) { return {keyName(code), std::move(does), {{code, kind}}}; }

// Of a screen's keys one opens another: practice.
static Intent intentOf(const Key::Press& press, Screen shown) {
    return {press.kind, press.kind == Kind::open ? Screen::practice : shown, 0};
}

Intents intentsForKey(const Snapshot& shown, int code) {
    if (code == key::fullScreen) return {{Kind::fullScreen, shown.screen, 0}};
    const Keys keys = viewOf(shown.screen).keys(shown);
    for (const Key& each : keys.all)
        for (const Key::Press& press : each.presses)
            if (press.code == code) return {intentOf(press, shown.screen)};
    if (keys.others == Keys::Others::learned) return {{Kind::learned, shown.screen, code}};
    if (keys.others == Keys::Others::typed) return {};
    const bool anothers = shown.screen == Screen::progress && !shown.progress.whose.empty();
    if (code == key::escape && shown.screen != Screen::practice)
        return {{Kind::open, anothers ? Screen::students : Screen::practice, 0}};
    const auto screens = screenViews();
    if (code < '1' || code >= '1' + static_cast<int>(screens.size())) return {};
    return {{Kind::open, screens[static_cast<std::size_t>(code - '1')]->screen, 0}};
}

Intents intentsForWheel(const Snapshot& shown, double turned) {
    const Keys keys = viewOf(shown.screen).keys(shown);
    if (turned == 0.0 || shown.screen == Screen::practice || keys.others != Keys::Others::open) return {};
    return intentsForKey(shown, turned > 0.0 ? key::up : key::down);
}

Intents intentsForCharacter(const Snapshot& shown, unsigned codePoint) {
    if (viewOf(shown.screen).keys(shown).others != Keys::Others::typed || codePoint < 32 || codePoint == 127) return {};
    return {{Kind::typed, shown.screen, static_cast<int>(codePoint)}};
}

std::string keyName(int code) {
    switch (code) {
        case key::space: return "space";
        case key::escape: return "esc";
        case key::enter: return "enter";
        case 258: return "tab";
        case key::backspace: return "backspace";
        case key::right: return "→";
        case key::left: return "←";
        case key::down: return "↓";
        case key::up: return "↑";
        case 266: return "page up";
        case 267: return "page down";
        default: break;
    }
    if (code > 32 && code < 127) return std::string(1, static_cast<char>(code));
    if (code >= 290 && code <= 314) return fmt::format("F{}", code - 289);
    return fmt::format("key {}", code);
}

namespace {

// The other screens at the right, each to be clicked: by name where that leaves `room` at the left, else by digit.
// Returns where they begin.
float drawScreens(Canvas& canvas, const Snapshot& snapshot, const Box& box, float room, Intents& intents) {
    const auto screens = screenViews();
    std::vector<std::string> names, digits;
    for (const ScreenView* view : screens) {
        digits.push_back(std::to_string(digits.size() + 1));
        names.push_back(fmt::format("{} {}", digits.back(), view->name));
    }
    float wide = 0.0f;
    for (const std::string& name : names) wide += canvas.textWidth(name, TextSize::small) + canvas.unit(2);
    const bool named = room + wide <= box.width;
    float right = box.right();
    if (!named)
        right = canvas.text(right, box.y, "screens", TextSize::small, Ink::quiet, 0.0f, Side::right).x - canvas.unit(1);
    for (std::size_t i = screens.size(); i-- > 0;) {
        const Ink ink = screens[i]->screen == snapshot.screen ? Ink::full : Ink::quiet;
        const Box word =
            canvas.text(right, box.y, named ? names[i] : digits[i], TextSize::small, ink, 0.0f, Side::right);
        if (canvas.clicked({word.x - canvas.unit(0.5), word.y, word.width + canvas.unit(1), word.height}))
            intents.push_back({Intent::Kind::open, screens[i]->screen, 0});
        right = word.x - canvas.unit(named ? 2.0 : 1.0);
    }
    return right - canvas.unit(named ? 0.0 : 1.0);
}

}  // namespace

Intents drawKeys(Canvas& canvas, const Snapshot& snapshot, const Box& box) {
    const Keys keys = viewOf(snapshot.screen).keys(snapshot);
    std::vector<Key> hints;
    std::copy_if(keys.all.begin(), keys.all.end(), std::back_inserter(hints),
                 [](const Key& each) { return !each.does.empty(); });

    if (!snapshot.goesOn.empty()) hints.push_back({.shown = snapshot.goesOn, .does = "goes on", .presses = {}});

    // Where both do not fit, the keys of this screen are worth more than the other screens.
    const float gap = canvas.unit(3), inner = canvas.unit(0.75);
    float hintsWide = 0.0f;
    for (const Key& hint : hints)
        hintsWide +=
            canvas.textWidth(hint.shown, TextSize::small) + inner + canvas.textWidth(hint.does, TextSize::small) + gap;
    Intents intents;
    const float right =
        keys.others == Keys::Others::open ? drawScreens(canvas, snapshot, box, hintsWide, intents) : box.right();
    // Long names of learned keys and large text: the line shrinks as a whole.
    const float shrink = std::min(1.0f, (right - box.x) / hintsWide);
    float x = box.x;
    for (const Key& hint : hints) {
        const float keyWide = shrink * canvas.textWidth(hint.shown, TextSize::small),
                    doesWide = shrink * canvas.textWidth(hint.does, TextSize::small);
        const Box whole{x, box.y - canvas.unit(0.5), keyWide + doesWide + shrink * inner, box.height + canvas.unit(1)};
        // Of two keys that belong together ("↑ ↓") each has its own sign; what they do stands behind the second.
        const auto between = hint.shown.find(' ');
        const bool two = between != std::string::npos && hint.presses.size() > 1;
        const float first = two ? shrink * canvas.textWidth(hint.shown.substr(0, between + 1), TextSize::small) : 0.0f;
        if (!hint.presses.empty() && canvas.clicked(whole)) {
            const bool second = two && !canvas.clicked({whole.x, whole.y, first, whole.height});
            intents.push_back(intentOf(hint.presses[second ? 1 : 0], snapshot.screen));
        }
        canvas.text(x, box.y, hint.shown, TextSize::small, Ink::full, keyWide + 0.5f);
        canvas.text(x + keyWide + shrink * inner, box.y, hint.does, TextSize::small, Ink::quiet, doesWide + 0.5f);
        x += keyWide + doesWide + shrink * (inner + gap);
    }
    return intents;
}

Intents drawScreen(Canvas& canvas, const Snapshot& snapshot) { return viewOf(snapshot.screen).draw(canvas, snapshot); }

}  // namespace landfall
