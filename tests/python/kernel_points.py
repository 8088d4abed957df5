"""27 points of the message protocol, each asked of this kernel and of the Python kernel in turn, then what goes beyond
them: wrong signatures, messages sent twice, several clients at once, cells that want too much, interrupts by their time.
"""

import json
import queue
import statistics
import sys
import threading
import time

import zmq
from jupyter_client.blocking import BlockingKernelClient
from jupyter_client.manager import KernelManager
from jupyter_kernel_test.msgspec_v5 import validate_message

from kernel_home import SAMPLES, installed

installed()
WAIT = 30

# What each kernel is asked to do.
CODE = {
    "plugread": {
        "stdout": 'print("hello")',
        "stderr": 'print_warning("careful")',
        "value": "6 * 7",
        "rich": "table([#{ a: 1 }])",
        "rich_mime": "text/html",
        "error": 'quantity(1, "V") + quantity(1, "s")',
        "show": 'show("one", "spot")',
        "again": 'show_again("two", "spot")',
        "ask": 'let said = input("name? "); print("hello " + said)',
        "long": "let i = 0; while true { i += 1; }",
        "complete": ("plo", "plot"),
        "inspect": "plot",
        "whole": "1 + 1",
        "open": "fn f() {",
        "target": 'on_comm("echo", |comm, said| comm.send(said))',
        "language": "plugread",
    },
    "python3": {
        "stdout": 'print("hello")',
        "stderr": 'import sys; print("careful", file=sys.stderr)',
        "value": "6 * 7",
        "rich": "from IPython.display import HTML; HTML('<b>x</b>')",
        "rich_mime": "text/html",
        "error": "1 / 0",
        "show": "from IPython.display import display, update_display; display('one', display_id='spot')",
        "again": "update_display('two', display_id='spot')",
        "ask": "said = input('name? '); print('hello ' + said)",
        "long": "while True: pass",
        "complete": ("prin", "print"),
        "inspect": "print",
        "whole": "1 + 1",
        "open": "def f():",
        "target": (
            "def opened(comm, msg):\n"
            "    comm.on_msg(lambda m: comm.send(m['content']['data']))\n"
            "    comm.send(msg['content']['data'])\n"
            "get_ipython().kernel.comm_manager.register_target('echo', opened)"
        ),
        "language": "python",
    },
}


class Talk:
    """A kernel and one client of it."""

    def __init__(self, name):
        self.code = CODE[name]
        self.manager = KernelManager(kernel_name=name)
        self.manager.start_kernel()
        self.client = self.manager.client()
        self.client.start_channels()
        self.client.wait_for_ready(timeout=60)
        self.settle()

    def settle(self):
        """Drops what still comes on iopub."""
        while True:
            try:
                self.client.get_iopub_msg(timeout=0.1)
            except queue.Empty:
                return

    def reply(self, asked, kind):
        while True:
            message = self.client.get_shell_msg(timeout=WAIT)
            if message["parent_header"].get("msg_id") == asked:
                validate_message(message, kind, asked)
                return message["content"]

    def said(self, asked):
        """All that iopub says of a request, from busy to idle."""
        out = []
        while True:
            message = self.client.get_iopub_msg(timeout=WAIT)
            if message["parent_header"].get("msg_id") != asked:
                continue
            if not message["msg_type"].startswith("comm_"):
                validate_message(message)
            out.append(message)
            if message["content"].get("execution_state") == "idle":
                return out

    def run(self, code, **options):
        asked = self.client.execute(code, **options)
        reply = self.reply(asked, "execute_reply")
        return reply, self.said(asked)

    def end(self):
        self.client.stop_channels()
        self.manager.shutdown_kernel(now=True)


def of(messages, kind):
    found = [m["content"] for m in messages if m["msg_type"] == kind]
    assert found, f"no {kind} among {[m['msg_type'] for m in messages]}"
    return found


def heartbeat(talk):
    socket = zmq.Context.instance().socket(zmq.REQ)
    try:
        socket.connect(f"tcp://{talk.manager.ip}:{talk.manager.hb_port}")
        socket.send(b"are you there")
        assert socket.poll(5000), "no answer"
        assert socket.recv() == b"are you there"
    finally:
        socket.close(linger=0)


def iopub_welcome(talk):
    # Of a kernel that nobody has listened to before: some sockets tell of the first listener alone.
    manager = KernelManager(kernel_name=talk.manager.kernel_name)
    manager.start_kernel()
    other = manager.client()
    other.start_channels(shell=False, iopub=True, stdin=False, hb=False, control=False)
    message = other.get_iopub_msg(timeout=WAIT)
    # The Python kernel's own start may have printed a warning before the listener was known.
    while message["msg_type"] == "stream" and talk.manager.kernel_name != "plugread":
        message = other.get_iopub_msg(timeout=WAIT)
    other.stop_channels()
    manager.shutdown_kernel(now=True)
    assert message["msg_type"] == "iopub_welcome", message["msg_type"]
    assert message["content"]["subscription"] == ""


def info(talk):
    return talk.reply(talk.client.kernel_info(), "kernel_info_reply")


def kernel_info(talk):
    assert info(talk)["status"] == "ok"


def language_info(talk):
    language = info(talk)["language_info"]
    assert language["name"] == talk.code["language"]
    assert language["mimetype"] and language["file_extension"].startswith(".")


def protocol_version(talk):
    version = [int(n) for n in info(talk)["protocol_version"].split(".")]
    assert version >= [5, 3], version


def stdout(talk):
    streams = of(talk.run(talk.code["stdout"])[1], "stream")
    assert "".join(s["text"] for s in streams if s["name"] == "stdout") == "hello\n"


def stderr(talk):
    streams = of(talk.run(talk.code["stderr"])[1], "stream")
    assert "".join(s["text"] for s in streams if s["name"] == "stderr") == "careful\n"


def execute_reply(talk):
    reply, _ = talk.run(talk.code["value"])
    assert reply["status"] == "ok" and isinstance(reply["execution_count"], int)


def busy_and_idle(talk):
    _, said = talk.run(talk.code["value"])
    states = [m["content"].get("execution_state") for m in said if m["msg_type"] == "status"]
    assert states == ["busy", "idle"], states
    assert said[0]["msg_type"] == "status" and said[-1]["msg_type"] == "status"


def execute_input(talk):
    reply, said = talk.run(talk.code["value"])
    shown = of(said, "execute_input")[0]
    assert shown["code"] == talk.code["value"]
    assert shown["execution_count"] == reply["execution_count"]


def shutdown(talk):
    own = Talk(talk.manager.kernel_name)
    asked = own.client.shutdown()
    reply = own.client.get_control_msg(timeout=10)
    assert reply["parent_header"]["msg_id"] == asked
    assert reply["content"]["status"] == "ok"
    until = time.time() + 10
    while own.manager.is_alive() and time.time() < until:
        time.sleep(0.02)
    assert not own.manager.is_alive(), "it lives on"
    own.end()


def complete(talk):
    text, wanted = talk.code["complete"]
    reply = talk.reply(talk.client.complete(text, len(text)), "complete_reply")
    assert wanted in reply["matches"], reply["matches"]
    assert (reply["cursor_start"], reply["cursor_end"]) == (0, len(text))


def inspect(talk):
    text = talk.code["inspect"]
    reply = talk.reply(talk.client.inspect(text, len(text)), "inspect_reply")
    assert reply["found"] and reply["data"]["text/plain"]


def is_complete(talk):
    reply = talk.reply(talk.client.is_complete(talk.code["whole"]), "is_complete_reply")
    assert reply["status"] == "complete"


def is_incomplete(talk):
    reply = talk.reply(talk.client.is_complete(talk.code["open"]), "is_complete_reply")
    assert reply["status"] == "incomplete" and reply["indent"].strip() == ""


def history(talk):
    talk.run(talk.code["value"])
    asked = talk.client.history(raw=True, output=False, hist_access_type="tail", n=1)
    rows = talk.reply(asked, "history_reply")["history"]
    assert [row[2] for row in rows] == [talk.code["value"]], rows


def comm_info(talk):
    assert talk.reply(talk.client.comm_info(), "comm_info_reply")["comms"] == {}


def errors(talk):
    reply, said = talk.run(talk.code["error"])
    error = of(said, "error")[0]
    assert reply["status"] == "error"
    for key in ("ename", "evalue", "traceback"):
        assert reply[key] == error[key] and error[key], key


def display_data(talk):
    shown = of(talk.run(talk.code["show"])[1], "display_data")[0]
    assert "one" in shown["data"]["text/plain"]
    assert shown["transient"]["display_id"] == "spot"


def update_display_data(talk):
    talk.run(talk.code["show"])
    shown = of(talk.run(talk.code["again"])[1], "update_display_data")[0]
    assert "two" in shown["data"]["text/plain"]
    assert shown["transient"]["display_id"] == "spot"


def execute_result(talk):
    reply, said = talk.run(talk.code["value"])
    result = of(said, "execute_result")[0]
    assert result["data"]["text/plain"] == "42"
    assert result["execution_count"] == reply["execution_count"]


def rich_result(talk):
    result = of(talk.run(talk.code["rich"])[1], "execute_result")[0]
    assert result["data"][talk.code["rich_mime"]] and result["data"]["text/plain"]


def stdin_input(talk):
    asked = talk.client.execute(talk.code["ask"], allow_stdin=True)
    question = talk.client.get_stdin_msg(timeout=10)
    assert question["content"] == {"prompt": "name? ", "password": False}, question["content"]
    assert question["parent_header"]["msg_id"] == asked
    if talk.code["language"] == "plugread":
        # Only who was asked answers.
        thief = zmq.Context.instance().socket(zmq.DEALER)
        thief.setsockopt(zmq.LINGER, 0)
        thief.connect(f"tcp://{talk.manager.ip}:{talk.manager.stdin_port}")
        talk.client.session.send(thief, "input_reply", {"status": "ok", "value": "Eve"})
        time.sleep(0.3)
        thief.close()
    talk.client.input("Ada")
    assert talk.reply(asked, "execute_reply")["status"] == "ok"
    streams = of(talk.said(asked), "stream")
    assert "".join(s["text"] for s in streams).strip() == "hello Ada"


def comm_life(talk):
    talk.run(talk.code["target"])
    session, shell = talk.client.session, talk.client.shell_channel

    def say(kind, **content):
        message = session.msg(kind, {"comm_id": "c1", **content})
        shell.send(message)
        return talk.said(message["header"]["msg_id"])

    opened = say("comm_open", target_name="echo", data={"n": 1})
    assert of(opened, "comm_msg")[0] == {"comm_id": "c1", "data": {"n": 1}}
    listed = talk.reply(talk.client.comm_info(), "comm_info_reply")["comms"]
    assert listed["c1"]["target_name"] == "echo", listed
    answered = say("comm_msg", data={"n": 2})
    assert of(answered, "comm_msg")[0]["data"] == {"n": 2}
    say("comm_close", data={})
    assert "c1" not in talk.reply(talk.client.comm_info(), "comm_info_reply")["comms"]
    refused = say("comm_open", target_name="nobody knows", data={})
    assert of(refused, "comm_close")[0]["comm_id"] == "c1"


def interrupt(talk):
    asked = talk.client.execute(talk.code["long"])
    time.sleep(0.5)
    talk.manager.interrupt_kernel()
    assert talk.reply(asked, "execute_reply")["status"] == "error"
    talk.settle()
    reply, _ = talk.run(talk.code["value"])
    assert reply["status"] == "ok", "it does not work after an interrupt"


def counting(talk):
    first = talk.run(talk.code["value"])[0]["execution_count"]
    assert talk.run(talk.code["value"], silent=True)[0]["status"] == "ok"
    talk.run(talk.code["value"], store_history=False)
    assert talk.run(talk.code["error"])[0]["execution_count"] == first + 1
    assert talk.run(talk.code["value"])[0]["execution_count"] == first + 2


def parent_headers(talk):
    asked = talk.client.execute(talk.code["stdout"])
    talk.reply(asked, "execute_reply")
    for message in talk.said(asked):
        parent = message["parent_header"]
        assert parent["msg_id"] == asked and parent["session"] == talk.client.session.session


POINTS = [
    heartbeat, iopub_welcome, kernel_info, language_info, protocol_version, stdout, stderr, execute_reply, busy_and_idle,
    execute_input, shutdown, complete, inspect, is_complete, is_incomplete, history, comm_info, errors, display_data,
    update_display_data, execute_result, rich_result, stdin_input, comm_life, interrupt, counting, parent_headers,
]


# What goes beyond: of this kernel alone.


def wrong_signatures(talk):
    """A cell under a wrong key, without a signature, or sent a second time is not run."""
    connection = talk.client.get_connection_info()
    socket = zmq.Context.instance().socket(zmq.DEALER)
    socket.connect(f"tcp://{connection['ip']}:{connection['shell_port']}")
    try:
        session = talk.client.session
        message = session.msg("execute_request", {"code": "6 * 7", "silent": False})
        right = session.serialize(message)
        mark = right.index(b"<IDS|MSG>")
        for wrong in (b"", b"0" * 64, right[mark + 1][:-1] + b"x"):
            frames = list(right)
            frames[mark + 1] = wrong
            socket.send_multipart(frames)
        changed = list(right)
        changed[-1] = changed[-1].replace(b"6 * 7", b"6 * 8")
        socket.send_multipart(changed)
        socket.send_multipart([b"no message at all"])
        assert not socket.poll(1000), "a forged cell was answered"
        socket.send_multipart(right)
        assert socket.poll(5000), "the genuine one was not"
        socket.recv_multipart()
        socket.send_multipart(right)
        assert not socket.poll(1000), "it was run a second time"
    finally:
        socket.close(linger=0)
    talk.settle()
    assert talk.run("6 * 7")[0]["status"] == "ok"


def stranger(talk):
    """A client with a session of its own."""
    client = BlockingKernelClient()
    client.load_connection_info(talk.client.get_connection_info())
    client.start_channels()
    client.wait_for_ready(timeout=20)
    return client


def several_clients(talk):
    """Four clients ask at once; each has its own answers, and all see all that is published."""
    found = {}

    def ask(number):
        client = stranger(talk)
        seen = []
        for turn in range(10):
            asked = client.execute(f"{number} * 1000 + {turn}")
            reply = client.get_shell_msg(timeout=WAIT)
            assert reply["parent_header"]["msg_id"] == asked
            while True:
                message = client.get_iopub_msg(timeout=WAIT)
                if message["parent_header"].get("msg_id") != asked:
                    continue
                if message["msg_type"] == "execute_result":
                    seen.append(message["content"]["data"]["text/plain"])
                if message["content"].get("execution_state") == "idle":
                    break
        found[number] = seen
        client.stop_channels()

    threads = [threading.Thread(target=ask, args=(n,)) for n in range(1, 5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert found == {n: [str(n * 1000 + t) for t in range(10)] for n in range(1, 5)}, found
    talk.settle()


def waiting_cells(talk):
    """Cells that wait behind one that fails are not run, unless that one says they may."""
    bad = talk.client.execute('quantity(1, "V") + quantity(1, "s")')
    next_one = talk.client.execute("6 * 7")
    assert talk.reply(bad, "execute_reply")["status"] == "error"
    status = talk.client.get_shell_msg(timeout=WAIT)["content"]["status"]
    # It may have come only after the other had failed: then it is run.
    assert status in ("aborted", "ok"), status
    bad = talk.client.execute('quantity(1, "V") + quantity(1, "s")', stop_on_error=False)
    next_one = talk.client.execute("6 * 7")
    assert talk.reply(bad, "execute_reply")["status"] == "error"
    assert talk.reply(next_one, "execute_reply")["status"] == "ok"
    talk.settle()


def errors_have_places(talk):
    """File, line, column, a caret under it, and what to do."""
    reply, _ = talk.run('let a = quantity(3, "V");\n  a + quantity(1, "degC")')
    text = "\n".join(reply["traceback"])
    assert f"cell [{reply['execution_count']}], line 2, column 5" in text, text
    caret = [line for line in reply["traceback"] if line.split("\x1b")[0].strip(" |") == "" and "^" in line]
    source = [line for line in reply["traceback"] if "a + quantity" in line]
    place = caret[0].replace("\x1b[1;31m", "").index("^")
    assert source[0][place] == "+", text
    run = f'let run = open("{SAMPLES}/first-start.csv");'
    reply, _ = talk.run(f"{run} run.rmp")
    assert "did you mean `run.rpm`?" in "\n".join(reply["traceback"])


def cells_that_want_too_much(talk):
    """Each ends with a sentence, and the kernel lives with all its names."""
    talk.run("let kept = 41;")
    for code, wanted in [
        ("loop { }", "goes on and on"),
        ("fn deep(n) { deep(n + 1) } deep(0)", "without an end"),
        ("let l = []; loop { l.push(l.len()); }", "grows without an end"),
        ('let s = "ab"; loop { s += s; }', "grows without an end"),
        ('loop { print("again and again"); }', "prints without an end"),
        ('open("/etc/hostname")', "/etc/hostname"),
        ('import "/etc/passwd" as p;', "imported"),
        ('eval("1")', "eval"),
        ('load_check("/etc/passwd")', "ends in .rhai"),
    ]:
        reply, _ = talk.run(code)
        assert reply["status"] == "error" and wanted in reply["evalue"], (code, reply)
    reply, said = talk.run("kept + 1")
    assert of(said, "execute_result")[0]["data"]["text/plain"] == "42", reply


LONG = [
    "let i = 0; loop { i += 1; }",
    "loop { run.egt.from_bank_median().largest().rolling_median(quantity(60, \"s\")).median(); }",
    "loop { review(run); }",
    "loop { run.rpm.rolling_mad(quantity(30, \"s\")).trend(); }",
    "loop { print(1); }",
    "loop { show(plot(run.egt)); }",
]


def interrupts_are_quick(talk):
    """From the request to the reply, at the 95th percentile of 60, native work included. Other work on the machine can only
    make it slower: up to three rounds are made, and each is told."""
    talk.run(f'let run = open("{SAMPLES}/hill-run-fading-alternator.csv"); let kept = 41;')
    highs = []
    while not highs or (min(highs) >= 0.2 and len(highs) < 3):
        highs.append(one_round(talk))
    assert min(highs) < 0.2, highs
    _, said = talk.run("kept + 1")
    assert of(said, "execute_result")[0]["data"]["text/plain"] == "42"
    assert talk.run("run.egt.from_bank_median().largest().max()")[0]["status"] == "ok"


def one_round(talk):
    """Sixty interrupts; seconds at the 95th percentile."""
    took = []
    for turn in range(60):
        asked = talk.client.execute(LONG[turn % len(LONG)])
        while talk.client.get_iopub_msg(timeout=WAIT)["msg_type"] != "execute_input":
            pass
        time.sleep(0.05 + 0.003 * (turn % 7))
        begun = time.perf_counter()
        message = talk.client.session.msg("interrupt_request", {})
        talk.client.control_channel.send(message)
        reply = talk.reply(asked, "execute_reply")
        took.append(time.perf_counter() - begun)
        assert reply["status"] == "error" and reply["ename"] == "Stopped", reply
        talk.settle()
    took.sort()
    high = took[int(0.95 * len(took)) - 1]
    print(f"  stopped after {1000 * statistics.median(took):.0f} ms (median), {1000 * high:.0f} ms (95 of 100)")
    return high


BEYOND = [
    wrong_signatures, several_clients, waiting_cells, errors_have_places, cells_that_want_too_much, interrupts_are_quick,
]


def main():
    wrong = []
    only = sys.argv[1:]
    for name, points in (("plugread", POINTS + BEYOND), ("python3", POINTS)):
        points = [p for p in points if not only or p.__name__ in only]
        talk = Talk(name)
        passed = 0
        for point in points:
            try:
                point(talk)
                passed += 1
            except Exception as error:  # noqa: BLE001, each point stands for itself
                wrong.append(f"{name}: {point.__name__}: {type(error).__name__}: {error}")
        talk.end()
        print(f"kernel points: {name}: {passed} of {len(points)} passed")
    if wrong:
        sys.exit("\n".join(wrong))


if __name__ == "__main__":
    main()
