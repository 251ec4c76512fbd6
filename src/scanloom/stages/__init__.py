"""The job, one folder or file per stage: pure sums from frozen inputs."""
