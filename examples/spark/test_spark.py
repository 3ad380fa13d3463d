"""The job on Spark in local mode: nothing is lost, doubled or mixed up, whatever the records hold and whatever becomes of the
filter.

    python -m unittest discover -s examples/spark

PLUMBRAIL names the program (target/release/plumbrail), LOTS the number of records (10000).
"""

import collections
import csv
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import unittest

import pyarrow.parquet

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import layout_lots  # noqa: E402
import lots  # noqa: E402
import why_not_pipe  # noqa: E402

PLUMBRAIL = pathlib.Path(os.environ.get("PLUMBRAIL", HERE.parent.parent / "target/release/plumbrail")).resolve()
LOTS = int(os.environ.get("LOTS", "10000"))
CAPS = ["--max-record", "1MiB", "--max-work", "2000"]

# Enough for several partitions, and for a filter to be killed in the middle of one.
FEW = 500

# The workers have this Python and its packages; the name of the machine need not be known.
os.environ.update(PYSPARK_PYTHON=sys.executable, PYSPARK_DRIVER_PYTHON=sys.executable, SPARK_LOCAL_IP="127.0.0.1")


def write_lots(path, count):
    with open(path, "w", encoding="utf-8") as file:
        for number in range(count):
            file.write(lots.lot(number)[0] + "\n")


def table(out):
    """Rows of the table as pyarrow reads them, in the order of the records."""
    parts = sorted(pathlib.Path(out, "lots").glob("*.parquet"))
    return [row for part in parts for row in pyarrow.parquet.read_table(part).to_pylist()]


def plain_pass(records):
    """The same without Spark: rows, and per item the quantity, packs and price, added up by plain Python."""
    rows, sums = [], collections.defaultdict(lambda: [0, 0, 0.0])
    with open(records, "rb") as lines, tempfile.TemporaryFile() as out:
        subprocess.run([PLUMBRAIL, "batch", "--jsonl", *CAPS], stdin=lines, stdout=out, check=True)
        out.seek(0)
        for text in out:
            answer = json.loads(text)
            error, layout = answer.get("error"), answer.get("ok", {}).get("layout", {})
            code = error["code"] if error else None
            panels = [panel["id"] for panel in layout.get("panels", [])]
            rows.append((answer["id"], code, len(panels) if layout else None, layout.get("order_total")))
            for line in layout.get("order", []):
                entry = sums[(line["item"], line.get("finish") or "")]
                entry[0] += line["quantity"]
                entry[1] += line["packs"]
                entry[2] += line["price"]
    return rows, sums


def csv_rows(folder):
    (file,) = pathlib.Path(folder).glob("*.csv")
    with open(file, encoding="utf-8", newline="") as text:
        return list(csv.DictReader(text))


class WholeJob(unittest.TestCase):
    """As a user calls it, the program shipped with `--files`."""

    def test_every_record_gives_its_row_and_the_order_is_the_sum_of_all(self):
        with tempfile.TemporaryDirectory() as home:
            records, out = f"{home}/lots.jsonl", f"{home}/out"
            write_lots(records, LOTS)
            submit = pathlib.Path(sys.executable).parent / "spark-submit"
            environment = {**os.environ, "PATH": f"{submit.parent}:{os.environ['PATH']}"}
            ran = subprocess.run(
                [submit, "--master", "local[2,4]", "--files", PLUMBRAIL, HERE / "layout_lots.py", records, out]
                + ["--plumbrail", "plumbrail", "--partition-bytes", "2m", "--", *CAPS],
                cwd=home, env=environment, capture_output=True, text=True, check=False,
            )
            self.assertEqual(ran.returncode, 0, ran.stdout + ran.stderr[-4000:])
            self.assertTrue(ran.stdout.startswith(f"{LOTS} lots in "), ran.stdout)
            rows, (plain, sums) = table(out), plain_pass(records)

            wanted = [lots.lot(number)[1:] for number in range(LOTS)]
            self.assertEqual([(r["id"], r["code"]) for r in rows], wanted)
            self.assertEqual([(r["id"], r["code"], r["panels"], r["total"]) for r in rows], plain)
            bad = collections.Counter(code for _, code in wanted if code)
            self.assertEqual(sum(bad.values()), LOTS // lots.BAD_EACH)
            told = collections.Counter()
            for line in csv_rows(f"{out}/bad"):
                told[line["code"]] += int(line["lots"])
            self.assertEqual(told, bad)
            # What has no id can be found by how its line begins.
            nameless = [(r["line"], n) for n, r in enumerate(rows) if r["id"] is None]
            self.assertTrue(nameless and all(lots.lot(n)[0].startswith(line) for line, n in nameless))

            by_item = {(line["item"], line["finish"]): line for line in csv_rows(f"{out}/order")}
            self.assertEqual(by_item.keys(), sums.keys())
            for key, (quantity, packs, price) in sums.items():
                line = by_item[key]
                self.assertEqual((int(line["quantity"]), int(line["packs"])), (quantity, packs), key)
                self.assertAlmostEqual(float(line["price"]), price, delta=0.01, msg=str(key))
            by_lot = sum(r["total"] for r in rows if r["ok"])
            self.assertAlmostEqual(sum(float(line["price"]) for line in by_item.values()), by_lot, delta=0.5)


# Stands where the program stands, and kills it after some answers: always, or in the first attempt that comes by.
KILLER = """#!{python}
import os, signal, subprocess, sys
try:
    os.close(os.open({marker!r} + (".once" if {once} else f".{{os.getpid()}}"), os.O_CREAT | os.O_EXCL))
except FileExistsError:
    os.execv({program!r}, [{program!r}, *sys.argv[1:]])
child = subprocess.Popen([{program!r}, *sys.argv[1:]], stdout=subprocess.PIPE)
for number, line in enumerate(child.stdout):
    sys.stdout.buffer.write(line)
    if number == 20:
        break
sys.stdout.buffer.flush()
print("this filter is killed", file=sys.stderr, flush=True)
child.kill()
os.kill(os.getpid(), signal.SIGKILL)
"""


class KilledFilter(unittest.TestCase):
    """Four attempts a task, as on a cluster."""

    @classmethod
    def setUpClass(cls):
        from pyspark.sql import SparkSession

        builder = SparkSession.builder.master("local[2,4]").config("spark.ui.showConsoleProgress", "false")
        cls.spark = builder.config("spark.sql.files.maxPartitionBytes", "64k").getOrCreate()
        cls.spark.sparkContext.setLogLevel("OFF")
        # A job that is a file of its own needs no shipping; a module of a job does.
        cls.spark.sparkContext.addPyFile(str(HERE / "layout_lots.py"))
        cls.home = tempfile.TemporaryDirectory()
        cls.records = f"{cls.home.name}/lots.jsonl"
        write_lots(cls.records, FEW)

    @classmethod
    def tearDownClass(cls):
        cls.spark.stop()
        cls.home.cleanup()

    def lay_out(self, name, program):
        out = f"{self.home.name}/{name}"
        given = [self.records, out, "--plumbrail", str(program), "--", *CAPS]
        return out, layout_lots.arguments(given)

    def killer(self, name, once):
        path, marker = pathlib.Path(self.home.name, name), f"{self.home.name}/{name}-killed"
        path.write_text(KILLER.format(python=sys.executable, once=once, marker=marker, program=str(PLUMBRAIL)))
        path.chmod(0o755)
        return path, lambda: len(list(path.parent.glob(f"{name}-killed.*")))

    def test_a_filter_that_is_killed_once_costs_nothing(self):
        program, killed = self.killer("kills-once", True)
        out, args = self.lay_out("once", program)
        self.assertEqual(layout_lots.lay_out(self.spark, args), FEW)
        self.assertEqual(killed(), 1)
        rows, (plain, _) = table(out), plain_pass(self.records)
        self.assertEqual([(r["id"], r["code"], r["panels"], r["total"]) for r in rows], plain)
        self.assertGreater(self.spark.read.text(self.records).rdd.getNumPartitions(), 2)

    def test_a_filter_that_is_always_killed_fails_the_job_and_leaves_no_table(self):
        program, killed = self.killer("kills-always", False)
        out, args = self.lay_out("always", program)
        with self.assertRaises(Exception) as failed:
            layout_lots.lay_out(self.spark, args)
        for words in ("the filter ended with signal 9", "it said: this filter is killed"):
            self.assertIn(words, str(failed.exception))
        self.assertGreaterEqual(killed(), 4, "it was not tried again")
        self.assertEqual([str(p) for p in pathlib.Path(out).rglob("*") if p.is_file()], [])

    def test_a_program_that_is_not_there_fails_the_job(self):
        out, args = self.lay_out("nowhere", "no-such-program")
        with self.assertRaisesRegex(Exception, "neither shipped with --files nor is it on the path"):
            layout_lots.lay_out(self.spark, args)
        self.assertFalse(pathlib.Path(out, "lots/_SUCCESS").exists())

    def test_pipe_loses_records_in_silence(self):
        context, told = self.spark.sparkContext, {}
        for name, command in why_not_pipe.FILTERS.items():
            for check_code in (False, True):
                told[name, check_code] = why_not_pipe.through_pipe(context, command, check_code)
        left = why_not_pipe.ANSWERED * why_not_pipe.PARTITIONS
        self.assertLess(left, why_not_pipe.RECORDS)
        self.assertEqual(told, {
            ("killed", False): left,
            ("killed", True): None,
            ("ends early with status 0", False): left,
            ("ends early with status 0", True): left,
        })


# Answers as the program does, but for one fault.
FAULTY = """
import json, os, signal, sys
fault, lines = sys.argv[1], sys.stdin.read().splitlines()
answers = [json.dumps({"id": json.loads(line)["id"], "ok": {}}) + "\\n" for line in lines]
middle = len(answers) // 2
if fault == "few": del answers[middle]
if fault == "fewer at the end": del answers[-3:]
if fault == "many": answers.append(answers[-1])
if fault == "doubled": answers.insert(middle, answers[middle])
if fault == "reordered": answers[middle], answers[middle + 1] = answers[middle + 1], answers[middle]
if fault == "other line": answers[middle] = json.dumps({"id": None, "error": {"code": "bad-json", "line": middle}}) + "\\n"
if fault == "no json": answers[middle] = "Killed\\n"
if fault == "neither": answers[middle] = json.dumps({"id": middle}) + "\\n"
if fault == "cut off": answers[-1] = answers[-1][:-1]
if fault == "half": answers[-1] = answers[-1][:5]
sys.stdout.write("".join(answers)); sys.stdout.flush()
if fault == "status": print("no room left", file=sys.stderr); sys.exit(3)
if fault == "killed at the end": os.kill(os.getpid(), signal.SIGKILL)
"""


class FaultyFilter(unittest.TestCase):
    """Without Spark: what the check of a partition finds."""

    def through(self, *command, count=50, records=None):
        records = (json.dumps({"id": n}) for n in range(count)) if records is None else records
        return list(layout_lots.answers(iter(records), list(command)))

    def faulty(self, fault):
        return self.through(sys.executable, "-c", FAULTY, fault)

    def test_a_good_filter(self):
        self.assertEqual([a["id"] for _, a in self.faulty("none")], list(range(50)))
        self.assertEqual(self.through(sys.executable, "-c", FAULTY, "none", count=0), [])

    def test_every_fault_is_found(self):
        for fault, words in {
            "few": r"answer 26 of the filter is to record 26, but record 25 was next",
            "fewer at the end": r"status 0: 50 records in, 47 answers out; it said nothing",
            "many": r"gave answer 51 to 50 records",
            "doubled": r"answer 27 of the filter is to record 25, but record 26 was next",
            "reordered": r"answer 26 of the filter is to record 26, but record 25 was next",
            "other line": r"answer 26 of the filter is that to line 25",
            "no json": r"answer 26 of the filter is none: b'Killed",
            "neither": r"answer 26 of the filter is neither",
            "cut off": r"answer 50 of the filter is cut off",
            "half": r"answer 50 of the filter is none",
            "status": r"status 3: 50 records in, 50 answers out; it said: no room left",
            "killed at the end": r"signal 9: 50 records in, 50 answers out",
        }.items():
            with self.subTest(fault), self.assertRaisesRegex(layout_lots.FilterFailed, words):
                self.faulty(fault)

    def test_a_filter_that_reads_nothing(self):
        with self.assertRaisesRegex(layout_lots.FilterFailed, "0 answers out"):
            self.through("true", count=100_000)
        with self.assertRaisesRegex(layout_lots.FilterFailed, "cannot be started"):
            self.through(str(HERE / "no-such-program"))

    def test_a_fault_of_the_input_is_told_as_it_is(self):
        def broken():
            yield json.dumps({"id": 0})
            raise OSError("the disk is gone")

        with self.assertRaisesRegex(OSError, "the disk is gone"):
            self.through(sys.executable, "-c", FAULTY, "none", records=broken())
        with self.assertRaisesRegex(ValueError, "one line"):
            self.through(sys.executable, "-c", FAULTY, "none", records=["{\n}"])

    def test_who_stops_taking_leaves_no_filter_behind(self):
        taken = layout_lots.answers((json.dumps({"id": n}) for n in range(10**9)), [sys.executable, "-uc", (
            "import json, sys\n"
            "for line in sys.stdin: print(json.dumps({'id': json.loads(line)['id'], 'ok': {}}))\n"
        )])
        self.assertEqual(next(taken)[1]["id"], 0)
        process = taken.gi_frame.f_locals["process"]
        taken.close()
        self.assertIsNotNone(process.returncode)


if __name__ == "__main__":
    unittest.main()
