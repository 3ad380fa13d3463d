"""What `RDD.pipe` does when a filter stops midway: counts records in and out and says what Spark said.

    spark-submit why_not_pipe.py
"""

import os

RECORDS, PARTITIONS, ANSWERED = 1000, 2, 100

# Both answer the first hundred records of their partition; the first is then killed, the second ends as if all were well.
FILTERS = {
    "killed": f"sh -c 'head -n {ANSWERED}; kill -9 $$'",
    "ends early with status 0": f"head -n {ANSWERED}",
}


def through_pipe(context, command, check_code):
    """How many of the records come out, or None where the job fails."""
    records = context.parallelize([str(n) for n in range(RECORDS)], PARTITIONS)
    try:
        return records.pipe(command, env=dict(os.environ), checkCode=check_code).count()
    except Exception as error:  # Spark hands a task's failure on as an exception of its own kind.
        if "Pipe function" not in str(error) and "PIPE_FUNCTION_EXITED" not in str(error):
            raise
        return None


def main():
    from pyspark.sql import SparkSession

    spark = SparkSession.builder.appName("why not pipe").getOrCreate()
    spark.sparkContext.setLogLevel("OFF")
    try:
        for name, command in FILTERS.items():
            for check_code in (False, True):
                out = through_pipe(spark.sparkContext, command, check_code)
                end = "the job fails" if out is None else f"{out} out, and the job succeeds"
                print(f"filter {name}, checkCode={check_code}: {RECORDS} in, {end}")
    finally:
        spark.stop()


if __name__ == "__main__":
    main()
