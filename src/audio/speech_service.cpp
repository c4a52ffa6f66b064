#include "src/audio/speech_service.h"

#include <condition_variable>
#include <cstdlib>
#include <mutex>
#include <optional>
#include <thread>
#include <utility>

#ifdef LANDFALL_HAS_SPEECH
#include <libspeechd.h>
#endif

#include "src/system/machine.h"

namespace landfall {

namespace {

constexpr const char* noService =
    "No speech service answers: install speech-dispatcher, or let results sound as tones (settings).";

#ifdef LANDFALL_HAS_SPEECH
// Its own words are for programmers and stay here.
class Service {
public:
    ~Service() { close(); }
    bool say(const std::string& words) {
        open();
        // A service that was started anew is met once more.
        if (connection && spd_say(connection, SPD_TEXT, words.c_str()) >= 0) return true;
        close();
        open();
        return connection && spd_say(connection, SPD_TEXT, words.c_str()) >= 0;
    }
    void silence() {
        if (connection && spd_cancel(connection) < 0) close();
    }

private:
    void open() {
        if (connection) return;
        char* why = nullptr;
        connection = spd_open2("landfall", "results", nullptr, SPD_MODE_SINGLE, nullptr, 1, &why);
        std::free(why);
    }
    void close() {
        if (connection) spd_close(connection);
        connection = nullptr;
    }
    SPDConnection* connection = nullptr;
};
#else
struct Service {
    bool say(const std::string&) { return false; }
    void silence() {}
};
#endif

}  // namespace

struct SpeechService::State {
    std::mutex mutex;
    std::condition_variable asked;
    std::optional<std::string> next;  // empty words: silence
    bool ending = false, unheard = false;

    void run() {
        surviveBrokenConnections();
        Service service;
        for (std::unique_lock lock(mutex);;) {
            asked.wait(lock, [this] { return next || ending; });
            if (ending) return;
            const std::string words = *std::exchange(next, std::nullopt);
            lock.unlock();
            service.silence();
            const bool heard = words.empty() || service.say(words);
            lock.lock();
            if (!words.empty()) unheard = !heard;
        }
    }
};

SpeechService::SpeechService() : state(std::make_shared<State>()) {
    std::thread([of = state] { of->run(); }).detach();
}

SpeechService::~SpeechService() {
    const std::lock_guard lock(state->mutex);
    state->ending = true;
    state->asked.notify_one();
}

void SpeechService::say(std::string words) {
    const std::lock_guard lock(state->mutex);
    state->next = std::move(words);
    state->asked.notify_one();
}

void SpeechService::silence() { say({}); }

std::string SpeechService::trouble() const {
    const std::lock_guard lock(state->mutex);
    return state->unheard ? noService : "";
}

}  // namespace landfall
