namespace Traceability.Contracts.Attachments;

/// <summary>A photo or file that is stored; facts name it by its hash.</summary>
/// <param name="Hash">SHA-256 of its content, 64 hexadecimal digits in small letters.</param>
/// <param name="MediaType">Its media type, as its content was found to be.</param>
/// <param name="Bytes">Its size.</param>
/// <param name="StoredAt">When it was first stored.</param>
public sealed record StoredAttachment(string Hash, string MediaType, int Bytes, DateTimeOffset StoredAt);
