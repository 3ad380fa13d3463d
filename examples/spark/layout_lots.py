"""Lays out many lots on Spark: records of `plumbrail batch --jsonl` in, Parquet and two summaries out.

    spark-submit --master 'local[*,4]' layout_lots.py lots.jsonl out --plumbrail ../../target/release/plumbrail

Every record gives exactly one row. Each partition is fed to one filter, and the task fails unless each answer belongs to
its record, no answer is missing or too many, and the filter ends well; Spark then tries the task again. README.md says why
this is not `RDD.pipe`.
"""

import argparse
import collections
import json
import os
import shutil
import subprocess
import sys
import tempfile
import threading

# Of what the filter said last so much is told when it fails.
TAIL_BYTES = 2000

# Of a line without an id so much is kept, so that it can be found.
SHOWN_CHARACTERS = 200


class FilterFailed(Exception):
    """The filter did not answer each record once and in order; nothing of its partition counts."""


def answers(records, command):
    """Yields (line, answer) for each line of `records`, in order, by way of a filter that answers line by line.

    Raises FilterFailed as soon as an answer is not the one to its record, and at the end when answers are missing, when
    there are too many, or when the filter ended with another status than 0.
    """
    waiting = collections.deque()
    sent = Feed()
    with tempfile.TemporaryFile() as said:
        try:
            process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=said)
        except OSError as error:
            raise FilterFailed(f"the filter cannot be started: {error}") from error
        feeder = threading.Thread(target=sent.feed, args=(records, process.stdin, waiting), daemon=True)
        feeder.start()
        taken = 0
        try:
            for text in process.stdout:
                if not waiting:
                    raise FilterFailed(f"the filter gave answer {taken + 1} to {taken} records{tail(said)}")
                taken += 1
                line = waiting.popleft()
                yield line, checked(text, line, taken)
            status = process.wait()
            feeder.join()
            if sent.error is not None:
                raise sent.error
            if status != 0 or taken != sent.count or sent.is_broken:
                raise FilterFailed(
                    f"the filter ended with {ending(status)}: {sent.count} records in, {taken} answers out{tail(said)}"
                )
        finally:
            # Also where the task is given up: no filter stays behind.
            process.kill()
            process.wait()
            process.stdout.close()


class Feed:
    """What the writing thread did. Without a thread of its own the pipes would fill on both sides and wait for ever."""

    def __init__(self):
        self.count, self.is_broken, self.error = 0, False, None

    def feed(self, records, pipe, waiting):
        """Writes all records; each waits for its answer before the filter can have seen it."""
        try:
            with pipe:
                for line in records:
                    if "\n" in line:
                        raise ValueError("a record is one line; this one has a line end within")
                    waiting.append(line)
                    self.count += 1
                    pipe.write(line.encode("utf-8", "surrogatepass") + b"\n")
        except BrokenPipeError:
            self.is_broken = True
        except BaseException as error:  # It is raised again by who takes the answers.
            self.error = error


def checked(text, line, number):
    """The answer to a line, the `number`th from 1 of its filter, if that is what stands in `text`."""
    try:
        answer = json.loads(text)
        found, error = answer["id"], answer.get("error")
    except (ValueError, KeyError, TypeError, AttributeError) as why:
        raise FilterFailed(f"answer {number} of the filter is none: {text[:SHOWN_CHARACTERS]!r}") from why
    if not text.endswith(b"\n"):
        raise FilterFailed(f"answer {number} of the filter is cut off")
    if ("ok" in answer) == (error is not None):
        raise FilterFailed(f"answer {number} of the filter is neither `ok` nor `error`, or both")
    if error is not None and error.get("line") is not None:
        # No id could be read, so the answer tells the line.
        if error["line"] != number:
            raise FilterFailed(f"answer {number} of the filter is that to line {error['line']}")
        return answer
    wanted = json.loads(line).get("id")
    if json.dumps(found) != json.dumps(wanted):
        raise FilterFailed(f"answer {number} of the filter is to record {found!r}, but record {wanted!r} was next")
    return answer


def ending(status):
    """An exit status in words."""
    return f"status {status}" if status >= 0 else f"signal {-status}"


def tail(said):
    """What the filter said last."""
    # The place of the file is shared with the filter, so it is read at an offset.
    size = os.fstat(said.fileno()).st_size
    text = os.pread(said.fileno(), TAIL_BYTES, max(0, size - TAIL_BYTES)).decode("utf-8", "replace").strip()
    return f"; it said: {text}" if text else "; it said nothing"


def row(line, answer):
    """A row of the table, as in `schema`."""
    name = answer["id"]
    identity = name if isinstance(name, str) or name is None else json.dumps(name)
    shown = line[:SHOWN_CHARACTERS] if name is None else None
    error = answer.get("error")
    if error is not None:
        code = error["code"]
        return identity, shown, False, None, None, code, error.get("finding"), error["message"], None, None, None, None
    layout = answer["ok"]["layout"]
    order = [
        (o["item"], o.get("finish"), o["quantity"], o["packs"], as_float(o.get("price"))) for o in layout["order"]
    ]
    posts, panels, total = len(layout["posts"]), len(layout["panels"]), as_float(layout.get("order_total"))
    states = answer["ok"]["complete"], answer["ok"]["limits_hold"]
    return identity, shown, True, *states, None, None, None, posts, panels, order, total


def as_float(number):
    """A price may be written as a whole number."""
    return None if number is None else float(number)


def schema():
    """Types of the table. They are stated, never guessed from the first rows."""
    from pyspark.sql import types as t

    order = t.StructType([
        t.StructField("item", t.StringType(), False),
        t.StructField("finish", t.StringType()),
        t.StructField("quantity", t.LongType(), False),
        t.StructField("packs", t.LongType(), False),
        t.StructField("price", t.DoubleType()),
    ])
    return t.StructType([
        t.StructField("id", t.StringType()),
        # The start of a line that has no id.
        t.StructField("line", t.StringType()),
        t.StructField("ok", t.BooleanType(), False),
        t.StructField("complete", t.BooleanType()),
        t.StructField("limits_hold", t.BooleanType()),
        t.StructField("code", t.StringType()),
        t.StructField("finding", t.StringType()),
        t.StructField("message", t.StringType()),
        t.StructField("posts", t.IntegerType()),
        t.StructField("panels", t.IntegerType()),
        t.StructField("order", t.ArrayType(order, False)),
        t.StructField("total", t.DoubleType()),
    ])


def program(name):
    """Where the program lies on the machine of a task: shipped with the job, or on the path."""
    from pyspark import SparkFiles

    shipped = SparkFiles.get(os.path.basename(name))
    found = shipped if os.path.isfile(shipped) else shutil.which(name)
    if found is None:
        raise FilterFailed(f"{name} was neither shipped with --files nor is it on the path of this machine")
    return found


def lay_out(spark, args):
    """Lays out all records and writes the table."""
    context = spark.sparkContext
    if os.path.isfile(args.plumbrail):
        context.addFile(args.plumbrail)
    name = args.plumbrail
    options = ["batch", "--jsonl", "--jobs", "1", *args.options]
    # Lines end with a newline and nothing else: Spark's default would also part a record at a carriage return.
    lines = spark.read.option("lineSep", "\n").text(args.lots)

    def partition(rows):
        command = [program(name), *options]
        return (row(line, answer) for line, answer in answers((r.value for r in rows), command))

    # One action, so that every record is laid out once; all that follows reads the table.
    table = spark.createDataFrame(lines.rdd.mapPartitions(partition), schema())
    table.write.mode("errorifexists").parquet(f"{args.out}/lots")
    records, rows = lines.count(), spark.read.parquet(f"{args.out}/lots").count()
    if records != rows:
        raise FilterFailed(f"{records} records were read, but {args.out}/lots has {rows} rows")
    return rows


def summarise(spark, out):
    """Order totals by item over all lots, and bad lots by code; written as CSV and given as rows."""
    from pyspark.sql import functions as f

    lots = spark.read.parquet(f"{out}/lots")
    lines = lots.select(f.explode("order").alias("line")).select("line.*")
    # A sum over some of the prices would look like the price of all.
    price = f.when(f.count("price") == f.count("*"), f.round(f.sum("price"), 2))
    order = lines.groupBy("item", "finish").agg(
        f.sum("quantity").alias("quantity"), f.sum("packs").alias("packs"), price.alias("price")
    )
    bad = lots.where("not ok").groupBy("code", "finding").agg(f.count("*").alias("lots"), f.min("message").alias("one"))
    tables = {"order": order.orderBy("item", "finish"), "bad": bad.orderBy("code", "finding")}
    for name, table in tables.items():
        table.coalesce(1).write.mode("errorifexists").option("header", True).csv(f"{out}/{name}")
    return tuple(table.collect() for table in tables.values())


def arguments(given):
    """What stands on the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__.splitlines()[0], epilog="Options of `plumbrail batch --jsonl` follow behind `--`."
    )
    parser.add_argument("lots", help="records, one JSON object a line: a file, a folder or an address that Spark reads")
    parser.add_argument("out", help="folder for the results; what is there already is never written over")
    parser.add_argument("--plumbrail", default="plumbrail", help="the program: a file, or a name shipped with --files")
    parser.add_argument(
        "--partition-bytes", default="16m", help="records that are laid out, and tried again, together [16m]"
    )
    own = given[: given.index("--")] if "--" in given else given
    args = parser.parse_args(own)
    args.options = given[len(own) + 1 :]
    return args


def main():
    from pyspark.sql import SparkSession

    args = arguments(sys.argv[1:])
    builder = SparkSession.builder.appName("lots").config("spark.sql.files.maxPartitionBytes", args.partition_bytes)
    spark = builder.getOrCreate()
    try:
        rows = lay_out(spark, args)
        order, bad = summarise(spark, args.out)
    finally:
        spark.stop()
    print(f"{rows} lots in {args.out}/lots")
    for line in order:
        finish = f", {line.finish}" if line.finish else ""
        price = "no price" if line.price is None else f"{line.price:.2f}"
        print(f"{line.quantity:10}  {line.packs:8} packs  {price:>14}  {line['item']}{finish}")
    for line in bad:
        print(f"{line.lots:10}  bad: {line.code}{f' ({line.finding})' if line.finding else ''}: {line.one}")


if __name__ == "__main__":
    main()
