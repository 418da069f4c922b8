namespace Traceability.Client.Outbox;

/// <summary>The outbox did not take, or not do, what it was asked for. Nothing was stored.</summary>
public class OutboxException : Exception
{
    /// <summary>Makes it.</summary>
    public OutboxException(string message, Exception? cause = null)
        : base(message, cause)
    {
    }
}

/// <summary>The outbox is full: the fact was not taken. Nobody may be told that it was saved.</summary>
public sealed class OutboxFullException(string message) : OutboxException(message);

/// <summary>Another process has the outbox open.</summary>
public sealed class OutboxInUseException(string message, Exception? cause = null) : OutboxException(message, cause);

/// <summary>The outbox has a fact with this id and other content.</summary>
public sealed class OutboxConflictException(string message) : OutboxException(message);

/// <summary>The disk did not take it: the fact is not stored.</summary>
public sealed class OutboxStorageException(string message, Exception? cause = null) : OutboxException(message, cause);
