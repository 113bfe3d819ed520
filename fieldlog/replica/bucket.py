"""A replica in a bucket that speaks S3. Loaded only where one is set: boto3 is part of the optional extra `replica`."""

from __future__ import annotations

import base64
import hashlib
import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import boto3
from boto3.exceptions import Boto3Error
from botocore.exceptions import BotoCoreError, ClientError

from fieldlog.errors import ReplicaFault

DEFAULT_REGION = "us-east-1"


def _endpoint() -> str | None:
    return os.environ.get("AWS_ENDPOINT_URL_S3") or os.environ.get("AWS_ENDPOINT_URL")


def _region() -> str:
    return os.environ.get("AWS_REGION") or os.environ.get("AWS_DEFAULT_REGION") or DEFAULT_REGION


@dataclass(frozen=True)
class BucketPlace:
    """A prefix in a bucket."""

    bucket: str
    prefix: str
    _client: Any = field(default_factory=lambda: boto3.client("s3", region_name=_region()), compare=False, repr=False)

    @property
    def text(self) -> str:
        """The place as it is written in the setting."""
        return f"s3://{self.bucket}/{self.prefix}".rstrip("/")

    def names(self, under: str) -> set[str]:
        """The names directly below one."""
        start = self._key(under)
        start = f"{start}/" if start else ""
        found: set[str] = set()
        try:
            for page in self._client.get_paginator("list_objects_v2").paginate(Bucket=self.bucket, Prefix=start, Delimiter="/"):
                found |= {one["Prefix"].removeprefix(start).rstrip("/") for one in page.get("CommonPrefixes", [])}
                found |= {one["Key"].removeprefix(start) for one in page.get("Contents", [])}
        except (BotoCoreError, ClientError) as fault:
            raise self._named(fault) from fault
        return found

    def put(self, source: Path, name: str) -> None:
        """Send a file with its SHA-256, which the bucket holds what came against."""
        data = source.read_bytes()
        checksum = base64.b64encode(hashlib.sha256(data).digest()).decode()
        try:
            self._client.put_object(Bucket=self.bucket, Key=self._key(name), Body=data, ChecksumSHA256=checksum)
        except (BotoCoreError, ClientError) as fault:
            raise self._named(fault) from fault

    def get(self, name: str, target: Path) -> bool:
        """Fetch a file; whether it is there."""
        try:
            self._client.download_file(self.bucket, self._key(name), str(target))
        except ClientError as fault:
            if fault.response.get("Error", {}).get("Code") in ("404", "NoSuchKey"):
                return False
            raise self._named(fault) from fault
        except (BotoCoreError, Boto3Error) as fault:
            raise self._named(fault) from fault
        return True

    def remove(self, under: str) -> None:
        """Remove all below a name."""
        try:
            for page in self._client.get_paginator("list_objects_v2").paginate(Bucket=self.bucket, Prefix=f"{self._key(under)}/"):
                for one in page.get("Contents", []):
                    self._client.delete_object(Bucket=self.bucket, Key=one["Key"])
        except (BotoCoreError, ClientError) as fault:
            raise self._named(fault) from fault

    def engine_target(self, name: str) -> dict[str, Any]:
        """Litestream's words for a prefix below this one."""
        target: dict[str, Any] = {"type": "s3", "bucket": self.bucket, "path": self._key(name), "region": _region()}
        if endpoint := _endpoint():
            target |= {"endpoint": endpoint, "force-path-style": True}
        return target

    def _key(self, name: str) -> str:
        return "/".join(part for part in (self.prefix, name) if part)

    def _named(self, fault: Exception) -> ReplicaFault:
        return ReplicaFault(f"The replica {self.text} does not answer as it should: {fault}.")
