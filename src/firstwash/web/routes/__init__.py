"""Addresses of the worksheet: each module makes one router over the studio and the jobs."""
