#include "src/store/store_writer.h"

#include <algorithm>
#include <chrono>

#include <fmt/core.h>

namespace landfall {

StoreWriter::StoreWriter(Config with, Listener told)
    : config(std::move(with)), listener(std::move(told)), file(config.log), thread([this] { run(); }) {}

StoreWriter::~StoreWriter() {
    {
        const std::lock_guard lock(mutex);
        closing = true;
    }
    changed.notify_all();
    thread.join();
}

int StoreWriter::add(LoggedTry oneTry) {
    const std::lock_guard lock(mutex);
    oneTry.number = static_cast<int>(kept.size()) + 1;
    kept.push_back({std::move(oneTry), true});
    ++wanted;
    changed.notify_all();
    return static_cast<int>(kept.size());
}

bool StoreWriter::setStruck(int number, bool struck) {
    const std::lock_guard lock(mutex);
    if (number < 1 || number > static_cast<int>(kept.size())) return false;
    Kept& one = kept[static_cast<std::size_t>(number - 1)];
    if (one.oneTry.struck == struck) return false;
    one.oneTry.struck = struck;
    one.dirty = true;
    ++wanted;
    changed.notify_all();
    return true;
}

void StoreWriter::guess(int number, Guess said) {
    const std::lock_guard lock(mutex);
    if (number < 1 || number > static_cast<int>(kept.size())) return;
    Kept& one = kept[static_cast<std::size_t>(number - 1)];
    one.oneTry.guess = said;
    one.dirty = true;
    ++wanted;
    changed.notify_all();
}

StoreWriter::State StoreWriter::stateNow() const {
    const auto isDirty = [](const Kept& one) { return one.dirty; };
    const auto waiting = std::count_if(kept.begin(), kept.end(), isDirty);
    const auto safe = std::find_if(kept.begin(), kept.end(), isDirty) - kept.begin();
    return {static_cast<int>(kept.size()), static_cast<int>(waiting), static_cast<int>(safe), problem, file};
}

StoreWriter::State StoreWriter::state() const {
    const std::lock_guard lock(mutex);
    return stateNow();
}

StoreWriter::State StoreWriter::drain() {
    std::unique_lock lock(mutex);
    const long mine = ++wanted;
    changed.notify_all();
    answered.wait(lock, [&] { return served >= mine; });
    return stateNow();
}

Result<void> StoreWriter::continueIn(const std::filesystem::path& to) {
    std::unique_lock lock(mutex);
    answered.wait(lock, [&] { return removal == nullptr; });
    Removal mine{to, {}};
    removal = &mine;
    changed.notify_all();
    answered.wait(lock, [&] { return mine.answer.has_value(); });
    return *mine.answer;
}

void StoreWriter::tell(std::unique_lock<std::mutex>& lock, const StoreNotice& notice) {
    if (!listener) return;
    lock.unlock();
    listener(notice);
    lock.lock();
}

void StoreWriter::run() {
    std::unique_lock lock(mutex);
    while (true) {
        const auto due = [&] { return wanted != served || removal != nullptr || closing; };
        if (problem.empty()) changed.wait(lock, due);
        else changed.wait_for(lock, std::chrono::duration<double>(config.retryAfter.value), due);

        if (removal != nullptr) {
            auto answer = saveIn(lock, removal->to);
            if (answer) {
                file = removal->to;
                problem.clear();
            }
            removal->answer = std::move(answer);
            removal = nullptr;
            answered.notify_all();
        }
        const long serving = wanted;
        const bool last = closing;
        const bool wasFailing = !problem.empty();
        if (const auto done = writeAll(lock); !done) {
            problem = done.error().message;
            if (!wasFailing) tell(lock, {StoreNotice::Kind::failing, 0, problem});
        } else if (wasFailing) {
            problem.clear();
            tell(lock, {StoreNotice::Kind::recovered, 0, {}});
        }
        served = serving;
        answered.notify_all();
        if (last) return;
    }
}

// Everything that is not in the log as it is here, in the order played; the first failure ends it.
Result<void> StoreWriter::writeAll(std::unique_lock<std::mutex>& lock) {
    // A log that was deleted while open would take tries into a file without a name: write the sitting anew instead.
    std::error_code ignored;
    if (log && !std::filesystem::exists(file, ignored)) {
        log.reset();
        for (Kept& one : kept) one.dirty = true;
    }
    while (true) {
        const auto next = std::find_if(kept.begin(), kept.end(), [](const Kept& one) { return one.dirty; });
        if (next == kept.end()) return {};
        const LoggedTry oneTry = next->oneTry;
        const std::filesystem::path to = file;
        lock.unlock();
        auto done = writeOne(oneTry, to);
        lock.lock();
        if (!done) return done;
        Kept& one = kept[static_cast<std::size_t>(oneTry.number - 1)];
        one.dirty = one.differs(oneTry);  // struck meanwhile: once more
        tell(lock, {StoreNotice::Kind::written, oneTry.number, {}});
    }
}

Result<void> StoreWriter::writeOne(const LoggedTry& oneTry, const std::filesystem::path& to) {
    if (log) {
        auto done = log->put(config.sitting, oneTry);
        if (done || done.error().code == Error::Code::busy) return done;
        // what failed may be the open file itself, and closing it gives the room of its write-ahead log back: once
        // more, anew
        log.reset();
    }
    auto opened = Log::open(to, Log::Access::write, config.patience);
    if (!opened) return opened.error();
    log = std::move(*opened);
    return log->put(config.sitting, oneTry);
}

Result<void> StoreWriter::saveIn(std::unique_lock<std::mutex>& lock, const std::filesystem::path& to) {
    std::vector<LoggedTry> sitting;
    for (const Kept& one : kept) sitting.push_back(one.oneTry);
    lock.unlock();
    auto done = [&]() -> Result<void> {
        auto other = Log::open(to, Log::Access::write, config.patience);
        if (!other) return other.error();
        for (const LoggedTry& oneTry : sitting)
            if (auto put = other->put(config.sitting, oneTry); !put) return put;
        log = std::move(*other);
        return {};
    }();
    lock.lock();
    if (done)
        for (const LoggedTry& oneTry : sitting) {
            Kept& one = kept[static_cast<std::size_t>(oneTry.number - 1)];
            one.dirty = one.differs(oneTry);
        }
    return done;
}

}  // namespace landfall
