#include "src/app/screens/start_screen.h"

#include <algorithm>
#include <tuple>

#include <fmt/core.h>

namespace landfall {

namespace {

using Kind = Intent::Kind;

constexpr Decibels silent{-140.0};
constexpr Decibels aString{-40.0};     // a string that is hit; an open microphone in a quiet room stays below
constexpr double clearlyLouder = 6.0;  // dB; the same string in a microphone moves too

}  // namespace

StartScreen::StartScreen(Drill first) : firstDrill(std::move(first)) {
    start.firstDrill = firstDrill.name;
    start.firstDrillTrains = firstDrill.trains;
}

void StartScreen::to(StartStep step) {
    start.step = step;
    start.back = !alone && step > StartStep::device;
}

void StartScreen::begin() {
    alone = false;
    to(StartStep::device);
}

void StartScreen::show(StartStep step) {
    alone = true;
    to(step);
}

void StartScreen::lookingForDevices() {
    start.looking = true;
    start.moves = false;
    markedBy = MarkedBy::nobody;
    for (InputLevels& each : metered) std::fill(each.peaks.begin(), each.peaks.end(), silent);  // of another time
}

bool StartScreen::hears(const std::string& device) const {
    return std::any_of(metered.begin(), metered.end(), [&](const InputLevels& each) { return each.device == device; });
}

void StartScreen::setDevices(const std::vector<SoundDevice>& found, const Chosen& inUse, std::string trouble) {
    used = inUse;
    start.looking = false;
    start.trouble = std::move(trouble);
    // Those that stay keep their places.
    const auto named = [](const std::string& label) {
        return [&label](const SoundDevice& each) { return each.label == label; };
    };
    std::erase_if(devices, [&](const SoundDevice& each) {
        return !hears(each.label) && std::none_of(found.begin(), found.end(), named(each.label));
    });
    for (const SoundDevice& each : found) {
        if (each.inputs == 0) continue;
        if (const auto there = std::find_if(devices.begin(), devices.end(), named(each.label));
            there != devices.end()) {
            *there = each;
            continue;
        }
        devices.push_back(each);
        ++arrivals;
    }
    list();
    levels(std::vector(metered));
}

// The rows anew; the mark stays on its input, and goes to the one in use where that is gone.
void StartScreen::list() {
    const auto marked = input();
    start.inputs.clear();
    rows.clear();
    for (const SoundDevice& device : devices)
        for (int channel = 1; channel <= meteredChannels(device.inputs); ++channel) {
            rows.push_back({false, device.label, channel});
            start.inputs.push_back(
                {device.inputs == 1 ? device.label : fmt::format("{}, channel {}", device.label, channel), silent});
        }
    if (!rows.empty()) {
        rows.push_back({true, "", 1});
        start.inputs.push_back({"Simulated player", silent});
    }
    const auto rowOf = [this](const Chosen& wanted) {
        const auto same = [&](const Chosen& row) {
            return row.simulated == wanted.simulated
                   && (row.simulated || (row.device == wanted.device && row.channel == wanted.channel));
        };
        const auto found = std::find_if(rows.begin(), rows.end(), same);
        return found == rows.end() ? -1 : static_cast<int>(found - rows.begin());
    };
    // Where no device is named it is the system's choice that is heard; a part of a name may stand for it.
    usedRow = rowOf(used);
    for (const SoundDevice& device : devices)
        if (usedRow < 0
            && (used.device.empty() ? device.systemChoice : device.label.find(used.device) != std::string::npos))
            usedRow = rowOf({used.simulated, device.label, used.channel});
    const int stays = marked && markedBy != MarkedBy::nobody ? rowOf(*marked) : -1;
    if (stays < 0) markedBy = MarkedBy::nobody;
    if (stays < 0) start.moves = false;
    start.selected = std::max(0, stays >= 0 ? stays : usedRow);
}

bool StartScreen::levels(const std::vector<InputLevels>& heard) {
    metered = heard;
    if (devices.empty()) return false;
    const auto before = std::tuple(rows.size(), start.selected, start.moves);
    for (const InputLevels& each : heard)
        if (!each.peaks.empty() && std::none_of(devices.begin(), devices.end(), [&](const SoundDevice& device) {
                return device.label == each.device;
            })) {
            devices.push_back({each.device, static_cast<int>(each.peaks.size()), false});
            list();
        }
    bool changed = false;
    int loudest = start.selected;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const auto channel = static_cast<std::size_t>(rows[i].channel - 1);
        Decibels level = silent;
        for (const InputLevels& each : heard)
            if (!rows[i].simulated && each.device == rows[i].device && channel < each.peaks.size())
                level = each.peaks[channel];
        changed = changed || level != start.inputs[i].level;
        start.inputs[i].level = level;
    }
    const auto levelOf = [this](int row) { return start.inputs[static_cast<std::size_t>(row)].level; };
    for (int row = 0; row < static_cast<int>(rows.size()); ++row)
        if (levelOf(row) > levelOf(loudest)) loudest = row;
    if (markedBy != MarkedBy::key && levelOf(loudest) >= aString
        && levelOf(loudest).value >= levelOf(start.selected).value + clearlyLouder) {
        start.selected = loudest;
        markedBy = MarkedBy::sound;
    }
    start.moves = start.moves || levelOf(start.selected) >= aString;
    return changed || before != std::tuple(rows.size(), start.selected, start.moves);
}

std::optional<InputChosen> StartScreen::input() const {
    if (rows.empty()) return std::nullopt;
    return rows[static_cast<std::size_t>(start.selected)];
}

void StartScreen::mark(int row) {
    start.selected = std::clamp(row, 0, std::max(0, static_cast<int>(rows.size()) - 1));
    markedBy = MarkedBy::key;
    start.moves = false;
}

void StartScreen::stringsChecked() {
    if (start.step == StartStep::strings && !alone) to(StartStep::firstDrill);
}

Wish StartScreen::goOn(bool skipped) {
    Wish wish;
    switch (start.step) {
        case StartStep::device:
            if (skipped) start.selected = std::max(0, usedRow);
            if (!skipped && !rows.empty() && start.selected != usedRow) {
                wish.input = used = *input();
                usedRow = start.selected;
            }
            // Without an input, and with the simulated player, there is no level to set.
            to(rows.empty() || input()->simulated ? StartStep::care : StartStep::level);
            break;
        case StartStep::level:
            to(StartStep::care);
            if (alone) wish.open = Screen::practice;
            return wish;
        case StartStep::care:
            wish.cautionsSeen = !skipped;
            to(StartStep::strings);
            if (alone) wish.open = Screen::settings;
            return wish;
        case StartStep::strings:
            if (skipped) to(StartStep::firstDrill);
            else wish.open = Screen::stringCheck;
            return wish;
        case StartStep::firstDrill:
            if (skipped) wish.open = Screen::drills;
            else wish.play = DrillChosen{firstDrill};
            return wish;
    }
    if (alone && start.step == StartStep::care) wish.open = Screen::practice;
    return wish;
}

Wish StartScreen::act(const Intent& intent) {
    switch (intent.kind) {
        case Kind::previous:
            if (start.step == StartStep::device) mark(start.selected - 1);
            break;
        case Kind::following:
            if (start.step == StartStep::device) mark(start.selected + 1);
            break;
        case Kind::pick:
            if (start.step == StartStep::device) mark(intent.value);
            break;
        case Kind::choose: return goOn(false);
        case Kind::decline: return goOn(true);
        case Kind::less:  // one step back
            if (start.back) to(static_cast<StartStep>(static_cast<int>(start.step) - 1));
            break;
        default: break;
    }
    return {};
}

}  // namespace landfall
