// Puts the tries of one sitting into the log on a thread of its own, and keeps them in memory for as long as the log
// cannot take them.
#pragma once

#include <condition_variable>
#include <filesystem>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "src/store/log.h"

namespace landfall {

// What the writer tells as it happens.
struct StoreNotice {
    enum class Kind {
        written,   // try `number` is on the disk
        failing,   // said once, when writing begins to fail: `message` is one line, with the remedy
        recovered  // writing works again, and everything that waited is on the disk
    };
    Kind kind = Kind::written;
    int number = 0;
    std::string message;
};

// add, strike, guess, state and continueIn may be called from any thread but the audio callback; add and strike never wait for
// the disk.
class StoreWriter {
public:
    struct Config {
        std::filesystem::path log;
        Sitting sitting;
        Seconds patience{3.0};    // how long a locked log is waited for
        Seconds retryAfter{2.0};  // from a failed attempt to the next; a new try is an attempt too
    };
    using Listener = std::function<void(const StoreNotice&)>;  // called on the writer's thread, without its lock

    struct State {
        int tries = 0;        // of this sitting
        int waiting = 0;      // not in the log yet, or not as they are now
        int safe = 0;         // so many from the first on are in the log as they are now
        std::string problem;  // one line, empty while all is well
        std::filesystem::path log;
    };

    explicit StoreWriter(Config config, Listener listener = {});
    ~StoreWriter();  // drains; what then still waits is gone with the program, so ask drain() first
    StoreWriter(const StoreWriter&) = delete;
    StoreWriter& operator=(const StoreWriter&) = delete;

    // Queues a try and numbers it: 1, 2, 3 ... within the sitting. The number is returned.
    int add(LoggedTry oneTry);

    // "Discard that": the try stays in the log as struck. restore takes it back. False where there is no such try, or
    // it is so already.
    bool strike(int number) { return setStruck(number, true); }
    bool restore(int number) { return setStruck(number, false); }

    // What the player said of it by ear.
    void guess(int number, Guess said);

    State state() const;

    // Waits until nothing is queued, or until one more attempt at it has failed.
    State drain();

    // Saves the whole sitting in another log, and goes on there. Where that fails, everything stays as it was.
    Result<void> continueIn(const std::filesystem::path& log);

private:
    struct Kept {
        LoggedTry oneTry;
        bool dirty = true;  // not in the log as it is here
        bool differs(const LoggedTry& written) const {
            return oneTry.struck != written.struck || oneTry.guess != written.guess;
        }
    };

    // A wish to go on in another file, answered by the writer's thread.
    struct Removal {
        std::filesystem::path to;
        std::optional<Result<void>> answer;
    };

    bool setStruck(int number, bool struck);
    State stateNow() const;
    void run();
    Result<void> writeAll(std::unique_lock<std::mutex>& lock);
    Result<void> writeOne(const LoggedTry& oneTry, const std::filesystem::path& to);
    Result<void> saveIn(std::unique_lock<std::mutex>& lock, const std::filesystem::path& to);
    void tell(std::unique_lock<std::mutex>& lock, const StoreNotice& notice);

    const Config config;
    const Listener listener;

    // The writer's thread alone.
    std::optional<Log> log;

    // Under the mutex.
    mutable std::mutex mutex;
    std::condition_variable changed;   // something to do
    std::condition_variable answered;  // an attempt has ended
    std::vector<Kept> kept;            // the sitting, in order
    std::filesystem::path file;
    std::string problem;
    long wanted = 0;  // attempts asked for
    long served = 0;  // the last of them that has been carried out
    Removal* removal = nullptr;
    bool closing = false;

    std::thread thread;
};

}  // namespace landfall
