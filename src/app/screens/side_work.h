// Slow work beside the trainer's thread: files, the log, looking for devices. One worker thread, in order; answers come
// back where take() is called.
#pragma once

#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <thread>

namespace landfall {

class SideWork {
public:
    using Answer = std::function<void()>;  // runs in take()
    using Job = std::function<Answer()>;   // runs on the worker; may return nothing

    SideWork();
    ~SideWork() { end(); }
    SideWork(const SideWork&) = delete;
    SideWork& operator=(const SideWork&) = delete;

    // `mustBe`: carried out even where the program ends: something is written.
    void ask(Job job, bool mustBe = false);
    // Carries out what must be, drops the rest; nothing is to be asked afterwards.
    void end();
    // Runs the answers that are there. Whether there were any.
    bool take();

private:
    struct Asked {
        Job job;
        bool mustBe = false;
    };
    void run();

    std::mutex mutex;
    std::condition_variable changed;
    std::deque<Asked> asked;
    std::deque<Answer> answers;
    bool closing = false;
    std::thread thread;  // last: it uses the rest
};

}  // namespace landfall
