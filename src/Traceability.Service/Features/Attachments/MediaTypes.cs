using Microsoft.Net.Http.Headers;

namespace Traceability.Service.Features.Attachments;

/// <summary>The types of files that are taken, and whether a content is a whole file of its type.</summary>
/// <remarks>
/// Told by the content, never by a name. What a browser could run (HTML, SVG, XML, scripts) is not among them. A content is not
/// decoded: see <see cref="FileForms"/>.
/// </remarks>
internal static class MediaTypes
{
    private const string Png = "image/png";
    private const string Jpeg = "image/jpeg";
    private const string WebP = "image/webp";
    private const string Pdf = "application/pdf";
    private const string Mp4 = "video/mp4";
    private const string Csv = "text/csv";
    private const string Plain = "text/plain";

    /// <summary>The types.</summary>
    public static ImmutableArray<string> All { get; } = [Png, Jpeg, WebP, Pdf, Mp4, Csv, Plain];

    /// <summary>The type that the request says, without its parameters.</summary>
    public static string Said(HttpRequest request) =>
        MediaTypeHeaderValue.TryParse(request.ContentType, out var said) ? said.MediaType.ToString().ToLowerInvariant() : string.Empty;

    /// <summary>The type as it is answered: text is UTF-8.</summary>
    public static string WithCharset(string mediaType) => mediaType is Csv or Plain ? $"{mediaType}; charset=utf-8" : mediaType;

    /// <summary>What names of files of the type end with.</summary>
    public static string ExtensionOf(string mediaType) => mediaType switch
    {
        Png => "png",
        Jpeg => "jpg",
        WebP => "webp",
        Pdf => "pdf",
        Mp4 => "mp4",
        Csv => "csv",
        _ => "txt",
    };

    /// <summary>What is wrong with a content that is said to be of that type; null if nothing is.</summary>
    public static string? FaultOf(ReadOnlySpan<byte> content, string mediaType)
    {
        if (content.IsEmpty)
        {
            return "The body is empty. Send the file itself as the body.";
        }

        var form = mediaType switch
        {
            Png => FileForms.OfPng(content),
            Jpeg => FileForms.OfJpeg(content),
            WebP => FileForms.OfWebP(content),
            Pdf => FileForms.OfPdf(content),
            Mp4 => FileForms.OfMp4(content),
            Csv or Plain => FileForms.OfText(content),
            _ => FileForm.Other,
        };
        return form switch
        {
            FileForm.Whole => null,
            FileForm.Cut => $"The content begins as {mediaType} and is not whole. Send the file again.",
            _ => $"The content is not {mediaType}, which Content-Type says. Taken are {string.Join(", ", All)}; text is UTF-8.",
        };
    }
}
